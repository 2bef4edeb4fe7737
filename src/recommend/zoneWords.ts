import { chanceWords, moneyWords, round } from "./cautions.ts";
import { rateWords } from "./summary.ts";
import type { ZonePlan } from "./zonePlan.ts";
import type { Sited } from "./zoneSite.ts";

/** What a reader of a zone plan must bear in mind. */
export function cautionsFor(sited: readonly Sited[]): string[] {
  const { lodging, feeding } = sited[0].assessment;
  const cautions = [
    "The value of varying holds if the curves hold; within-field responses change with the season, and published values with perfect knowledge are only some 12.53 dollars per acre (93 Ohio trials, Ohio State extension 2019).",
  ];
  if (
    sited.every(({ assessment }) => assessment.scene.picked.source !== "yield goal") &&
    sited.some(({ zone }) => zone.yieldGoal !== undefined)
  )
    cautions.push(
      "Yield goals move the level of the curve here, not its shape, so by themselves they do not change a rate.",
    );
  if (!lodging.known) cautions.push(lodging.limit.basis);
  if (sited.some(({ assessment }) => assessment.feeding.balances.some(({ nutrient }) => nutrient === "N")))
    cautions.push("Nitrogen is compared, never prescribed: use local response-based guidance for nitrogen rates.");
  if (feeding.limit.kind === "at" || sited.some(({ assessment }) => assessment.feeding.limit.kind === "at"))
    cautions.push(
      "Feeding limits rest on average uptake, which varies widely: have the soil tested zone by zone before acting on them.",
    );
  cautions.push("Leave strips of the uniform rate across the zones: they show whether varying paid.");
  cautions.push(
    "Follow the seed label, local nutrient-management rules and a licensed adviser where they say otherwise.",
  );
  return cautions;
}

/** One paragraph in plain language. */
export function summaryFor(plan: Omit<ZonePlan, "summary">): string {
  const { zones, total, uniform, value, currency } = plan;
  const rates = zones.map(({ rate }) => rate);
  const words = (rate: number): string => rateWords(rate, plan.rateUnit);
  const [low, high] = [Math.min(...rates), Math.max(...rates)];
  const sentences = [
    `${zones.length} zones, ${round(total.area, 4)} ${plan.areaUnit}: ${low === high ? `${words(low)} everywhere` : `${words(low).replace(/ seeds.*$/, "")} to ${words(high)}`}, ${seedWords(total.seeds, total.units)}, ${moneyWords(total.seedCost, currency)} for seed.`,
  ];
  if (uniform === null || value === null) {
    sentences.push("The zones share no tested rate, so there is no uniform rate to compare with.");
    return sentences.join(" ");
  }
  sentences.push(
    value.probability === null
      ? `One rate of ${words(uniform.rate)} for the whole field is the same plan: varying brings nothing${value.cost > 0 ? ` and costs ${moneyWords(value.cost, currency)}` : ""}.`
      : `Against the best single rate, ${words(uniform.rate)}, varying ${value.perArea < 0 ? "loses" : "brings"} ${moneyWords(Math.abs(value.perArea), currency)} per ${plan.areaUnit} on average; the chance that it pays at all is ${chanceWords(value.probability)}.`,
  );
  if (value.aboveCap.length > 0)
    sentences.push(
      `That single rate is above the limit (standability or feeding) of ${value.aboveCap.length > 4 ? `${value.aboveCap.length} zones` : listWords(value.aboveCap)}${value.perArea < 0 ? ": the difference is the price of keeping to it" : ""}.`,
    );
  return sentences.join(" ");
}

/** "a", "a and b", "a, b and c". */
function listWords(items: readonly string[]): string {
  return items.length < 2 ? (items[0] ?? "") : `${items.slice(0, -1).join(", ")} and ${items[items.length - 1]}`;
}

function seedWords(seeds: number, units: number | null): string {
  const millions = `${(seeds / 1e6).toFixed(2)} million seeds`;
  return units === null ? millions : `${millions} (${units.toFixed(1)} units)`;
}
