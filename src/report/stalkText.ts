import type { RatingReport, TraitReport } from "../analyze/standability.ts";
import { percentage, pValue, significant } from "./numberText.ts";
import { plainText } from "./plainText.ts";
import { limitRange, measureWords, placeText, shownDensity } from "./standWords.ts";
import type { Words } from "./words.ts";

/** Where a trait begins to decline, or how it follows density throughout. */
export function traitSentence(
  { measure, name, unit, mean, brokenLine, crowding, decline }: TraitReport,
  words: Words,
): string {
  const units = unit === null ? "" : ` ${unit}`;
  const what = `${measureWords[measure]} (column ${plainText(name)}, mean ${significant(mean, 3)}${units})`;
  const per = `${units} per ${words.densityUnit}`.replace(/^ /, "");
  const slope = (value: number | null): string => `${significant(value ?? 0, 2)} ${per}`;
  switch (decline.kind) {
    case "break": {
      const range = limitRange(decline.interval, shownDensity(words));
      const sure = `${significant(100 * (decline.interval?.level ?? 0.95), 4)} % range`;
      const place = placeText(decline.density as number, decline.axes, words, range === "" ? "" : `${sure} ${range}`);
      const open = range === "" ? ", a place this trial does not bound" : "";
      const test = brokenLine.pValue === null ? "" : ` (${pValue(brokenLine.pValue)} against a straight line)`;
      return `${what} begins to fall at ${place}${open}: it changes by ${slope(brokenLine.slopes.left)} below and by ${slope(brokenLine.slopes.right)} beyond${test}.`;
    }
    case "throughout":
    case "rises": {
      const value = crowding?.slope ?? 0;
      const interval = crowding?.interval ?? null;
      const size = (x: number | null): string => significant(Math.abs(x ?? 0), 2);
      const ends = interval === null ? [] : [size(interval.lower), size(interval.upper)];
      const range =
        interval === null
          ? ""
          : ` (${significant(100 * interval.level, 4)} % range ${(value < 0 ? ends.reverse() : ends).join(" to ")})`;
      const half = measure === "stalk-diameter" ? "; 0.5 % would keep the stalk area per ground the same" : "";
      return value < 0
        ? `${what} falls over the whole tested range: 1 % more plants make it ${size(value)} % less${range}${half}.`
        : `${what} rises with density: 1 % more plants make it ${size(value)} % more${range}.`;
    }
    case "none":
      return `${what} shows no change with density.`;
    case "untested":
      return `${what}: too few plots or densities to tell how it changes.`;
  }
}

/** Chance of a poor rating at the lowest, the middle and the highest tested density. */
export function ratingSentence({ name, scale, worst, fit }: RatingReport, words: Words): string {
  const what = `Ratings (column ${plainText(name)}, ${scale[0]} to ${scale[1]}, worst ${worst})`;
  if (fit.status !== "converged")
    return `${what}: no curve. ${plainText(fit.note ?? `The fit ended with ${fit.status}.`)}`;
  const middle = (scale[0] + scale[1]) / 2;
  const cuts = fit.cuts.map(({ rating }) => rating);
  const good = cuts.filter((rating) => (fit.worse === "higher" ? rating <= middle : rating >= middle));
  const cut = good[good.length - 1] ?? cuts[0];
  const shares = fit.worseThan.filter(({ rating }) => rating === cut);
  const picked = [...new Set([0, Math.floor((shares.length - 1) / 2), shares.length - 1])].flatMap(
    (i) => shares[i] ?? [],
  );
  const show = words.place === "stand" ? words.density : words.seedsInTable;
  const unit = words.densityUnit;
  const list = picked.map(({ density, probability }) => `${percentage(probability)} at ${show(density)}`).join(", ");
  const test = fit.slopeTest === null ? "" : ` (${pValue(fit.slopeTest.pValue)} for a change with density)`;
  return `${what}: the chance of a rating worse than ${cut} is ${list} ${unit}${test}.`;
}
