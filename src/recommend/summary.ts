import type { DensityUnit } from "../trial/trial.ts";
import { convertDensity } from "../trial/units.ts";
import { chanceWords, percent } from "./cautions.ts";
import type { LimitName } from "./densityLimit.ts";
import type { Recommendation } from "./recommendation.ts";

const areaName = { ac: "acre", ha: "hectare", m2: "square metre" } as const;

/** A rate as people say it: "32,500 seeds/ac", whatever the unit it was computed in. */
export function rateWords(rate: number, unit: DensityUnit, digits = 4): string {
  const area = unit.slice(unit.indexOf("/") + 1);
  const single = convertDensity(rate, unit, `plants/${area}` as DensityUnit);
  return `${thousands(Number(single.toPrecision(digits)))} seeds/${area}`;
}

/** Money with its sign or word: "$12.30", "12.30 EUR"; minus in front. */
export function moneyWords(value: number, currency: string): string {
  const plain = Math.abs(value).toFixed(2);
  const size = plain.replace(/\B(?=(\d{3})+\.)/g, ",");
  const sign = value < 0 && Number(plain) !== 0 ? "-" : "";
  return /^\p{L}/u.test(currency) ? `${sign}${size} ${currency}` : `${sign}${currency}${size}`;
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
  const { lower, upper, loss, lowerAtEdge, upperAtEdge } = r.nearBest;
  const ends = `${lowerAtEdge ? " (the lowest tested or below)" : ""}`;
  sentences.push(
    `Anything from ${about(lower)}${ends} to ${about(upper)}${upperAtEdge ? " (the highest tested or above)" : ""} returns within ${money(loss)}${per} of the best, so the exact figure matters little.`,
  );
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
      `About ${percent(share)} of the plants are expected to lodge (tolerated: ${percent(tolerated)}; chance of more: ${chanceWords(probability)}).`,
    );
  }
  sentences.push(
    "Yields are averages over seasons like those of the trial, not a forecast for one; the seed label, local rules and your adviser come first.",
  );
  return sentences.join(" ");
}

function thousands(value: number): string {
  const [whole, fraction] = String(value).split(".");
  const grouped = whole.replace(/\B(?=(\d{3})+(?!\d))/g, ",");
  return fraction === undefined ? grouped : `${grouped}.${fraction}`;
}
