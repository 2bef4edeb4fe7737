import type { DensityUnit } from "../trial/trial.ts";
import { convertDensity } from "../trial/units.ts";
import { chanceWords, moneyWords, percent } from "./cautions.ts";
import type { LimitName } from "./densityLimit.ts";
import type { Recommendation } from "./recommendation.ts";

const areaName = { ac: "acre", ha: "hectare", m2: "square metre" } as const;

/** A rate as people say it: "32,500 seeds/ac", whatever the unit it was computed in. */
export function rateWords(rate: number, unit: DensityUnit, digits = 4): string {
  const area = unit.slice(unit.indexOf("/") + 1);
  const single = convertDensity(rate, unit, `plants/${area}` as DensityUnit);
  return `${thousands(Number(single.toPrecision(digits)))} seeds/${area}`;
}

const binding: Readonly<Record<LimitName, string>> = {
  "economic-optimum": "which is where the last seeds just pay for themselves",
  standability: "held there by standability: above it more plants than tolerated are expected to lodge",
  feeding: "held there by what the field can feed",
  "nitrogen-from-data": "held there by the nitrogen the field gets, as this trial read it",
  "tested-range": "which is as far as the trial goes",
  "accepted-step": "as far as the accepted step for one season goes",
};

/** One paragraph that can be pasted into an e-mail. */
export function summaryOf(r: Omit<Recommendation, "summary">): string {
  const rate = (value: number): string => rateWords(value, r.rateUnit);
  const money = (value: number): string => moneyWords(value, r.currency);
  const about = (value: number): string => rateWords(value, r.rateUnit, 3);
  const per = ` per ${areaName[r.moneyArea]}`;
  const sentences = [
    `For ${r.hybrid}${r.field === null ? "" : ` on ${r.field}`} we suggest ${rate(r.rate)}, ${binding[r.bindingLimit]}.`,
  ];
  if (r.target !== r.rate) sentences.push(`The rate to aim for over the next seasons is ${rate(r.target)}.`);
  if (r.bindingLimit !== "economic-optimum" && r.limits.economicOptimum.kind === "at")
    sentences.push(`Yield and prices alone would point to about ${about(r.limits.economicOptimum.rate as number)}.`);
  sentences.push(nearBestWords(r, about, `${money(r.nearBest.loss)}${per}`));
  const { yield: grainFigure, return: back, seedCost } = r.expected;
  sentences.push(
    `At the suggested rate we expect ${grainFigure.mean.toFixed(1)} ${r.yieldUnit}, ${money(seedCost)} for seed and ${money(back.mean)} left${per} after paying for it.`,
  );
  if (r.gain !== null && r.gain.probability !== null) {
    const { return: gain, probability, against } = r.gain;
    const range = `likely between ${money(gain.interval.lower as number)} and ${money(gain.interval.upper as number)}`;
    sentences.push(
      `Against the present ${rate(against)} that is ${money(Math.abs(gain.mean))}${per} ${gain.mean < 0 ? "less" : "more"} (${range}); the chance that it pays is ${chanceWords(probability)}.`,
    );
  } else if (r.gain !== null) sentences.push("That is the present rate, so nothing changes.");
  else if (r.gainReason !== null && r.limits.acceptedStep.kind === "at") sentences.push(`${r.gainReason}`);
  if (r.expected.lodging !== null) {
    const { share, tolerated, probability } = r.expected.lodging;
    sentences.push(
      `About ${percent(Number(share.toPrecision(2)))} of the plants are expected to lodge (tolerated: ${percent(tolerated)}; chance of more: ${chanceWords(probability)}).`,
    );
  }
  sentences.push(
    "Yields are averages over seasons like those of the trial, not a forecast for one; the seed label, local rules and your adviser come first.",
  );
  return sentences.join(" ");
}

/** Rates nearly as good; "matters little" is said of a wide range only. */
function nearBestWords(
  { nearBest, limits, target, rate }: Omit<Recommendation, "summary">,
  about: (value: number) => string,
  loss: string,
): string {
  const { lower, upper, lowerAtEdge, upperAtEdge } = nearBest;
  const cut = [limits.standability, limits.feeding, limits.nitrogenFromData].some(
    (limit) => limit.kind === "at" && Math.abs((limit.rate as number) - upper) <= 1e-6 * upper,
  );
  const inside = rate >= lower * (1 - 1e-9) && rate <= upper * (1 + 1e-9);
  const opening = `${inside ? "" : "once there, "}${cut ? "within the limits, " : ""}anything`;
  const low = `${about(lower)}${lowerAtEdge ? " (the lowest tested or below)" : ""}`;
  const high = `${about(upper)}${upperAtEdge ? " (the highest tested or above)" : ""}`;
  const wide = upper - lower >= WIDE * target;
  return `${opening.charAt(0).toUpperCase()}${opening.slice(1)} from ${low} to ${high} returns within ${loss} of the best${wide ? ", so the exact figure matters little" : ""}.`;
}

/** Share of the rate from which on a near-best range is called wide: some 2,000 seeds per acre; a convention. */
const WIDE = 0.06;

function thousands(value: number): string {
  const [whole, fraction] = String(value).split(".");
  const grouped = whole.replace(/\B(?=(\d{3})+(?!\d))/g, ",");
  return fraction === undefined ? grouped : `${grouped}.${fraction}`;
}
