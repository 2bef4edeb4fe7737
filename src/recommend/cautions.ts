import type { Assessment } from "./assess.ts";
import type { ChosenRate } from "./chooseRate.ts";
import { likely } from "./estimate.ts";
import type { Recommendation } from "./recommendation.ts";

type Parts = Pick<Recommendation, "rate" | "expected" | "gain">;

/** What a reader must bear in mind before planting at this rate. */
export function cautionsOf(assessment: Assessment, chosen: ChosenRate, parts: Parts): string[] {
  const { scene, lodging, feeding, nitrogen, economic } = assessment;
  const { field, picked } = scene;
  const cautions: string[] = [
    "These results hold for the hybrids, the range of densities and the environments of the trial; a few site-years do not stand for the next season.",
  ];
  if (economic.kind === "at-highest")
    cautions.push(
      "The best-paying density is at or above the highest tested one: test higher densities before going further.",
    );
  if (economic.kind === "at-lowest")
    cautions.push(
      "The best-paying density is at or below the lowest tested one: test lower densities before going further.",
    );
  const bounds = picked.main.economic?.interval ?? picked.main.agronomic?.interval;
  if (picked.main.chosen === "flat")
    cautions.push(
      "This trial shows no response of yield to density: the rate rests on what seed costs and, where they were used, on published results. Try it in strips before going far from the present one.",
    );
  else if (bounds?.flatNotExcluded === true)
    cautions.push("By itself this trial does not exclude that yield does not respond to density at all.");
  if (!lodging.known) cautions.push(`${lodging.limit.basis} Look at stalk strength and lodging before raising a rate.`);
  else if (lodging.share === null) cautions.push(`Standability: ${lodging.limit.basis}`);
  const cap = lodging.limit.rate;
  if (
    (lodging.limit.kind === "at" || lodging.limit.kind === "at-lowest") &&
    cap !== null &&
    parts.rate > cap * (1 + 1e-9)
  )
    cautions.push(
      "This season's rate is still above the standability limit, because the accepted step is smaller than the way down to it: plan an early harvest.",
    );
  cautions.push(...testCautions(assessment, parts.rate));
  const { expected } = parts;
  if (expected.lodging !== null && expected.lodging.probability > 0.2)
    cautions.push(
      `The chance that more than the tolerated share lodges at this rate is ${chanceWords(expected.lodging.probability)}.`,
    );
  if (parts.gain?.probability != null && parts.gain.probability < 0.8 && parts.rate !== parts.gain.against)
    cautions.push(
      `The gain over the present rate is not certain (chance ${chanceWords(parts.gain.probability)}): try both rates in replicated strips first.`,
    );
  const n = feeding.balances.find(({ nutrient }) => nutrient === "N");
  if (n !== undefined) {
    const short = n.neededAtBest > n.available;
    cautions.push(
      `Nitrogen is compared, never prescribed: a crop at the best yield takes up about ${short ? "" : "no more than "}${round(n.neededAtBest)} ${n.unit}, ${short ? "more than" : "within"} the ${round(n.available)} ${n.unit} counted as available. Yield times a factor is a poor guide to nitrogen rates; use local response-based guidance.`,
    );
  }
  if (feeding.limit.kind === "at" || feeding.limit.kind === "at-lowest")
    cautions.push(
      "The feeding limit rests on average uptake, which varies widely between fields: have the soil tested before acting on it.",
    );
  if (nitrogen.limit.kind === "at" || nitrogen.limit.kind === "at-lowest")
    cautions.push("The nitrogen limit comes from this trial alone and is no advice on a nitrogen rate.");
  if (scene.knowledge !== null && picked.basis !== "curve at the yield goal")
    cautions.push(
      "The curve is steadied by published results for maize; a field far from those (very dry, very short season) deserves its own trial.",
    );
  if (chosen.capName !== "tested-range" && chosen.rate > chosen.cap * (1 + 1e-9) && cap !== chosen.cap)
    cautions.push(
      "This season's rate is still above the cap, because the accepted step is smaller than the way down to it.",
    );
  cautions.push(
    "Follow the seed label, local nutrient-management rules and a licensed adviser where they say otherwise.",
  );
  if (field.yieldGoal !== undefined && picked.source !== "yield goal")
    cautions.push("The yield goal moves the level of the curve here, not its shape.");
  return cautions;
}

const sourceWords: Readonly<Record<Recommendation["evidence"]["curves"], string>> = {
  "all environments": "that of all environments of the trial together",
  "one environment": "that of the environment named",
  "seasons seen": "those of the environments seen, each as likely",
  "yield goal": "that of fields of the yield goal",
};
const basisWords: Readonly<Record<Recommendation["evidence"]["basis"], string>> = {
  "refitted plots": "refits of its plots",
  "fits of the analysis": "the errors of its fits",
  "curve at the yield goal": "the errors of the model over environments",
};

/** Stalk tests never cap a rate, but a rate beyond their limit is named. */
function testCautions({ scene }: Assessment, rate: number): string[] {
  const tests = scene.main.standability?.lodging ?? [];
  return tests.flatMap(({ kind, last, limit }) => {
    if (!last || (kind !== "push" && kind !== "pinch")) return [];
    const beyond =
      limit.kind === "below-range" || (limit.density !== null && rate * scene.perRate > limit.density * (1 + 1e-9));
    if (!beyond) return [];
    return [
      `More than ${percent(limit.tolerated)} of the stalks failed a ${kind} test at densities like this one: they still stood, so walk the field before maturity and harvest it early if they fail again.`,
    ];
  });
}

/** What was taken as given. */
export function assumptionsOf({ scene, lodging, attitude, feeding }: Assessment): string[] {
  const { establishment, grainPrice, seedCostPerThousand, field, picked } = scene;
  const price = (value: number): string => moneyWords(value, field.currency ?? "");
  const money = `Grain at ${price(grainPrice)} per ${grainUnit(scene.yieldUnit)}, seed at ${price(seedCostPerThousand)} per 1,000`;
  const assumptions = [
    `${money}${typeof field.prices?.grainPrice === "object" || typeof field.prices?.seedCostPerThousand === "object" ? " (most likely; ranges are drawn from)" : ""}.`,
    establishment === null
      ? "Every seed makes a plant (establishment unknown)."
      : `${percent(likely(establishment))} of the seeds make a plant${typeof establishment === "object" ? `, ${percent(establishment.lowest)} to ${percent(establishment.highest)}` : ""}.`,
    `Curve: ${sourceWords[picked.source]}, its doubt from ${basisWords[picked.basis]}.`,
  ];
  if (lodging.known) assumptions.push(`At most ${percent(lodging.tolerated)} lodged plants are accepted.`);
  if (field.lossPerLodgedPlant !== undefined && field.lossPerLodgedPlant > 0)
    assumptions.push(`A lodged plant loses ${percent(field.lossPerLodgedPlant)} of its grain.`);
  if (attitude.kind === "chance")
    assumptions.push(`Planned for the return that is missed with a chance of ${percent(attitude.chance)}.`);
  if (feeding.balances.length > 0)
    assumptions.push(
      `Uptake per tonne of grain: ${feeding.balances.map((b) => `${b.nutrient} ${round(b.uptakePerTonne)} kg`).join(", ")}.`,
    );
  return assumptions;
}

/** Money with its sign or word: "$12.30", "12.30 EUR"; minus in front. */
export function moneyWords(value: number, currency: string): string {
  const plain = Math.abs(value).toFixed(2);
  const size = plain.replace(/\B(?=(\d{3})+\.)/g, ",");
  const sign = value < 0 && Number(plain) !== 0 ? "-" : "";
  return /^\p{L}/u.test(currency) ? `${sign}${size} ${currency}` : `${sign}${currency}${size}`;
}

export function percent(share: number): string {
  return `${Number((100 * share).toPrecision(share > 0 && share < 0.1 ? 2 : 3))} %`;
}

/** A chance that never claims certainty: "more than 99 %", "63 %", "less than 1 %". */
export function chanceWords(probability: number): string {
  if (probability > 0.99) return "more than 99 %";
  return probability < 0.01 ? "less than 1 %" : `${Math.round(100 * probability)} %`;
}

export function round(value: number, digits = 3): string {
  return String(Number(value.toPrecision(digits)));
}

/** "bu" of "bu/ac". */
export function grainUnit(yieldUnit: string): string {
  return yieldUnit.split("/")[0];
}
