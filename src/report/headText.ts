import type { TrialAnalysis } from "../analyze/result.ts";
import { optimumCell } from "./intervalWords.ts";
import { countOf, fixed, listText, significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { isUnjudged, rateOf, type Words } from "./words.ts";

/** What was tried, on what axis, at which prices, and the answer in two sentences. */
export function headText(analysis: TrialAnalysis, words: Words, width: number): string[] {
  const title = `${capital(plainText(analysis.trial.crop.name))}: how densely to plant`;
  const paragraphs = [trialSentence(analysis), axisSentence(analysis, words), priceSentence(analysis, words)];
  return [
    title,
    "=".repeat(title.length),
    "",
    ...paragraphs.flatMap((text) => wrapText(text, width)),
    "",
    ...answer(analysis, words, width),
  ];
}

function trialSentence({ trial }: TrialAnalysis): string {
  const places = trial.environments.map(plainText);
  const where =
    places.length === 1
      ? `one environment (${places[0]})`
      : places.length <= 6
        ? `${places.length} environments (${places.join(", ")})`
        : `${places.length} environments`;
  const out = trial.excluded.length;
  if (trial.hybrids.length === 0) return `No plot can be used; ${fixed(out, 0)} left out (listed below).`;
  const used = `${countOf(trial.plotsUsed, "plot")} used${out === 0 ? ", none left out" : `, ${fixed(out, 0)} left out (listed below)`}`;
  return `${countOf(trial.hybrids.length, "hybrid")} in ${where}; ${used}.`;
}

function axisSentence({ trial, hybrids, settings }: TrialAnalysis, words: Words): string {
  const tested = hybrids.flatMap(({ pooled }) => (pooled.kind === "analysed" ? [...pooled.densities] : []));
  const low = tested.reduce((least, x) => Math.min(least, x), Number.POSITIVE_INFINITY);
  const high = tested.reduce((most, x) => Math.max(most, x), 0);
  const range = tested.length === 0 ? "" : `, ${words.density(low)} to ${words.density(high)} ${words.densityUnit}`;
  const established =
    trial.establishment === null ? "" : `; ${significant(100 * trial.establishment, 3)} % of the seeds became plants`;
  const axis = {
    "mean-stand": `Density is the stand: plants counted, averaged for each seeding rate in its environment${range}${established}.`,
    "plot-stand": `Density is the stand counted in each plot${range}${established}.`,
    "seeding-rate": `Density is the seeding rate${range}${established}.`,
  }[trial.densityAxis];
  const level = significant(100 * settings.level, 4);
  const marked =
    tested.length === 0
      ? ""
      : ` Ranges marked ${level} % say where this trial places a figure, the choice of curve included.`;
  return `${axis} Yields are ${words.yieldUnit} at ${significant(trial.crop.standardMoisture, 3)} % moisture.${marked}`;
}

function priceSentence({ settings, trial }: TrialAnalysis, words: Words): string {
  const { prices } = settings;
  if (prices === null)
    return "No prices were given, so nothing is said about what pays: give a grain price and a seed cost for that.";
  const unit = trial.yieldUnit.split("/")[0];
  const costs = prices.yieldCost ? `, ${words.money(prices.yieldCost)} per ${unit} off it for drying and hauling` : "";
  return `Prices: grain ${words.money(prices.grainPrice)} per ${unit}${costs}, seed ${words.money(prices.seedCostPerThousand)} per 1,000 seeds.`;
}

function answer(analysis: TrialAnalysis, words: Words, width: number): string[] {
  const curves = analysis.hybrids.flatMap(({ pooled }) => (pooled.kind === "analysed" ? [pooled] : []));
  if (curves.length === 0) {
    const standing = analysis.hybrids.some(({ pooled }) => (pooled.standability?.lodging.length ?? 0) > 0);
    return standing
      ? ["No yield response could be analysed, only how the plants stand; the reasons stand below.", ""]
      : ["No hybrid could be analysed; the reasons stand below.", ""];
  }
  const priced = curves.flatMap((curve) => {
    const rate = curve.economic === null ? null : rateOf(curve.economic.axes);
    return curve.economic === null || rate === null || isUnjudged(curve)
      ? []
      : [{ curve, report: curve.economic, rate }];
  });
  if (priced.length === 0) {
    const unsettled = curves.some(isUnjudged) && analysis.settings.prices !== null;
    return unsettled ? [...wrapText("These plots do not settle which density pays best.", width), ""] : [];
  }
  const inSeeds = priced.every(({ report }) => report.axes.seedingRate !== null);
  const show = inSeeds ? words.seeds : words.density;
  const unit = inSeeds ? words.seedUnit : words.densityUnit;
  const sorted = [...priced].sort((a, b) => a.rate - b.rate);
  const cell = ({ report, rate }: (typeof sorted)[number]): string =>
    optimumCell(report.optimum.kind, rate, show, unit);
  const named = (one: (typeof sorted)[number]): string => `${cell(one)} (${plainText(one.curve.hybrid)})`;
  const first = sorted[0];
  const last = sorted[sorted.length - 1];
  const text: string[] = [];
  if (first !== undefined && last !== undefined) {
    text.push(
      first === last || cell(first) === cell(last)
        ? `The ${inSeeds ? "seeding rate" : "stand"} that pays best is ${first === last ? named(first) : `${cell(first)} for every hybrid`}.`
        : `The ${inSeeds ? "seeding rates" : "stands"} that pay best run from ${named(first)} to ${named(last)}.`,
    );
  }
  const whom = (some: readonly (typeof sorted)[number][]): string => {
    const names = some.map(({ curve }) => plainText(curve.hybrid));
    return names.length <= 5 ? listText(names) : `${names.length} of ${priced.length} hybrids`;
  };
  const open = priced.filter(({ report }) => report.interval.lowerOpen && report.interval.upperOpen);
  const half = priced.filter(({ report }) => report.interval.lowerOpen !== report.interval.upperOpen);
  if (half.length > 0) text.push(`This trial bounds it on one side only for ${whom(half)}.`);
  if (open.length > 0) {
    text.push(
      `${half.length > 0 ? "It" : "This trial"} bounds it on neither side for ${whom(open)}: there the best could lie anywhere in the tested range.`,
    );
  }
  return [...wrapText(text.join(" "), width), ""];
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
