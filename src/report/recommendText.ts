import { checkShape, type Shape } from "../core/checkShape.ts";
import { moneyWords } from "../recommend/cautions.ts";
import type { DensityLimit } from "../recommend/densityLimit.ts";
import type { Recommendation } from "../recommend/recommendation.ts";
import type { StepPlan } from "../recommend/stepPlan.ts";
import { rateWords } from "../recommend/summary.ts";
import type { ZonePlan } from "../recommend/zonePlan.ts";
import { countOf, fixed, listText, percentage, significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { textTable } from "./textTable.ts";

export interface RecommendTextOptions {
  /** Columns of the page; default 80. */
  readonly width?: number;
}

/** What `RecommendTextOptions` must look like. */
export const recommendTextOptionsShape: { readonly [property: string]: Shape } = { width: "number?" };

const names: Readonly<Record<DensityLimit["name"], string>> = {
  "economic-optimum": "best-paying density",
  standability: "standability",
  feeding: "feeding",
  "nitrogen-from-data": "nitrogen (from the trial)",
  "tested-range": "tested range",
  "accepted-step": "accepted step",
};

/**
 * A recommendation as plain text: the paragraph, the limits side by side, what was assumed, and what to be careful with.
 *
 * @example
 * const { trial } = readTrial(
 *   "hybrid,block,seeding_rate_k_ac,yield_bu_ac\nA,1,18,176\nA,1,24,193\nA,1,30,200\nA,1,36,197\nA,2,18,175\nA,2,24,190\nA,2,30,203\nA,2,36,200\n",
 * );
 * const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 };
 * recommendText(recommendRate(analyzeTrial(trial), { hybrid: "A", prices, planterStep: 1 })).startsWith("For A we suggest 28,000 seeds/ac"); // => true
 */
export function recommendText(r: Recommendation, options: RecommendTextOptions = {}): string {
  checkShape(r, "r", "standcurve/recommendation/1");
  checkShape(options, "options", recommendTextOptionsShape, "invalid-option");
  const { width = 80 } = options;
  const rate = (value: number): string => rateWords(value, r.rateUnit, 3).replace(/ seeds\/.*$/, "");
  const area = r.rateUnit.slice(r.rateUnit.indexOf("/") + 1);
  const { limits } = r;
  const listed = [
    limits.economicOptimum,
    limits.standability,
    limits.feeding,
    limits.nitrogenFromData,
    limits.lowestTested,
    limits.highestTested,
    limits.acceptedStep,
  ];
  // Nitrogen and a largest step are beside the point for most: a row only where there is such a limit.
  const rows = listed
    .filter(({ name, kind }) => kind !== "none" || (name !== "nitrogen-from-data" && name !== "accepted-step"))
    .map((limit) => {
      const end = limit === limits.lowestTested ? ", lowest" : limit === limits.highestTested ? ", highest" : "";
      const decides = limit.name === r.bindingLimit && !(end === ", lowest" && r.rate > (limit.rate ?? 0) * 1.1);
      return [
        `${names[limit.name]}${end}${decides ? " *" : ""}`,
        limitWords(limit, rate),
        limit.interval === null ? "" : rangeWords(limit.interval.lower, limit.interval.upper, rate),
        limit.stand === null ? "" : rate(limit.stand),
      ];
    });
  const without = r.evidence.elsewhere;
  const lines = [
    ...wrapText(plainText(r.summary), width),
    "",
    ...textTable(
      [
        { heading: "what bounds the rate\n(* decides)", align: "left" },
        { heading: `\nseeds/${area}`, align: "right" },
        { heading: `\n${percentage(level(r))} range`, align: "right" },
        { heading: `\nplants/${area}`, align: "right" },
      ],
      rows,
      width,
    ),
    "",
    ...bullets(
      [limits.economicOptimum, limits.standability, limits.feeding, limits.nitrogenFromData]
        .filter(({ name, kind }) => kind !== "none" || name !== "nitrogen-from-data")
        .map(({ name, basis }) => `${names[name].charAt(0).toUpperCase()}${names[name].slice(1)}: ${basis}`),
      width,
    ),
    ...(without === null
      ? []
      : bullets(
          [
            `Curves of this trial and published results for the crop together; without those the rate to aim for would be ${without.targetWithout === r.target ? "the same" : rateWords(without.targetWithout, r.rateUnit)}. Source: ${without.source}.`,
          ],
          width,
        )),
    "",
    ...section("Assumed", r.assumptions, width),
    ...section("Notes", r.notes, width),
    ...section("Be careful", r.cautions, width),
  ];
  return finish(lines);
}

function level({ limits }: Recommendation): number {
  return limits.economicOptimum.interval?.level ?? 0.95;
}

function limitWords({ name, kind, rate }: DensityLimit, show: (value: number) => string): string {
  if (kind === "none" || rate === null) return "none";
  if (name === "tested-range") return show(rate);
  if (name !== "economic-optimum" && kind !== "at") return `${kind === "at-lowest" ? "below" : "above"} ${show(rate)}`;
  if (kind === "at-lowest") return `${show(rate)} or less`;
  return kind === "at-highest" ? `${show(rate)} or more` : show(rate);
}

function rangeWords(lower: number | null, upper: number | null, show: (value: number) => string): string {
  if (lower === null) return upper === null ? "" : `${show(upper)} or less`;
  return upper === null ? `${show(lower)} or more` : `${show(lower)} to ${show(upper)}`;
}

/**
 * A step plan as plain text.
 *
 * @example
 * const { trial } = readTrial(
 *   "hybrid,block,seeding_rate_k_ac,yield_bu_ac\nA,1,18,176\nA,1,24,193\nA,1,30,200\nA,1,36,197\nA,2,18,175\nA,2,24,190\nA,2,30,203\nA,2,36,200\n",
 * );
 * const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 };
 * const field = { hybrid: "A", prices, planterStep: 1, presentRate: 34, acceptedStep: 2 };
 * stepPlanText(stepPlan(analyzeTrial(trial), field)).split("\n")[0]; // => "A: from 34,000 seeds/ac to 28,000 seeds/ac"
 */
export function stepPlanText(plan: StepPlan, options: RecommendTextOptions = {}): string {
  checkShape(plan, "plan", "standcurve/step-plan/1");
  checkShape(options, "options", recommendTextOptionsShape, "invalid-option");
  const { width = 80 } = options;
  const rate = (value: number): string => rateWords(value, plan.rateUnit);
  const money = (value: number): string => moneyWords(value, plan.currency);
  if (plan.steps.length === 0) {
    return finish(
      wrapText(
        `${plainText(plan.hybrid)}: the present ${rate(plan.present)} ${plan.present === plan.target ? "is the rate to keep" : "cannot be changed by the accepted step"}.`,
        width,
      ),
    );
  }
  const rows = plan.steps.map((step) => [
    `season ${step.season}`,
    rate(step.rate),
    step.fromPresent === null ? "not tested" : money(step.fromPresent.return.mean),
    step.fromPresent?.probability == null ? "" : percentage(step.fromPresent.probability),
    step.fromLast === null ? "" : money(step.fromLast.return.mean),
    step.expected?.lodging == null ? "" : percentage(step.expected.lodging.share),
  ]);
  const { strips } = plan;
  const stripLines =
    strips === null
      ? []
      : [
          `Rates ${listText(strips.rates.map(rate))} side by side. ${
            strips.replicates === null
              ? strips.reason
              : `${countOf(strips.replicates, "replicate")} show the ${significant(Math.abs(strips.difference), 2)} ${plan.yieldUnit} between the present rate and the target with a chance of ${percentage(strips.power)} (two-sided error ${percentage(strips.alpha)}). ${strips.reason}`
          }`,
        ];
  return finish([
    ...wrapText(`${plainText(plan.hybrid)}: from ${rate(plan.present)} to ${rate(plan.target)}`, width),
    "",
    ...textTable(
      [
        { heading: "", align: "left" },
        { heading: "rate", align: "right" },
        { heading: `gain per ${plan.moneyArea}\non present`, align: "right" },
        { heading: "chance\nthat it pays", align: "right" },
        { heading: "gain on\nlast step", align: "right" },
        { heading: "lodged", align: "right" },
      ],
      rows,
      width,
    ),
    "",
    ...section("Strips", stripLines, width),
    ...section("Look at", plan.watch, width),
    ...section("Notes", plan.notes, width),
    ...section("Be careful", plan.cautions, width),
  ]);
}

/**
 * A plan by zones as plain text.
 *
 * @example
 * const { trial } = readTrial(
 *   "hybrid,block,seeding_rate_k_ac,yield_bu_ac\nA,1,18,176\nA,1,24,193\nA,1,30,200\nA,1,36,197\nA,2,18,175\nA,2,24,190\nA,2,30,203\nA,2,36,200\n",
 * );
 * const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 };
 * const { zones } = readZones("zone,area_ac\nhill,20\nflat,60\n");
 * zonePlanText(planZones(analyzeTrial(trial), zones, { field: { prices } })).startsWith("2 zones, 80 ac"); // => true
 */
export function zonePlanText(plan: ZonePlan, options: RecommendTextOptions = {}): string {
  checkShape(plan, "plan", "standcurve/zone-plan/1");
  checkShape(options, "options", recommendTextOptionsShape, "invalid-option");
  const { width = 80 } = options;
  const money = (value: number): string => moneyWords(Math.round(value), plan.currency).replace(".00", "");
  const chance = (p: number | null): string =>
    p === null ? "" : p < 0.01 ? "< 1 %" : p > 0.99 ? "> 99 %" : percentage(p);
  const bare = (rate: number): string => rateWords(rate, plan.rateUnit).replace(/ seeds\/.*$/, "");
  const seeds = (one: { readonly seeds: number; readonly units: number | null }): string =>
    one.units === null ? fixed(one.seeds, 0) : fixed(one.units, 1);
  const counted = plan.zones.some(({ lodgingProbability }) => lodgingProbability !== null);
  const rows = plan.zones.map((zone) => [
    plainText(zone.id),
    fixed(zone.area, 1),
    bare(zone.rate),
    heldBy[zone.bindingLimit],
    seeds(zone),
    money(zone.seedCost),
    fixed(zone.yield.mean, 1),
    money(zone.return.mean),
    ...(counted ? [chance(zone.lodgingProbability)] : []),
  ]);
  const { total } = plan;
  rows.push(["together", fixed(total.area, 1), "", "", seeds(total), money(total.seedCost), "", ""]);
  const area = plan.rateUnit.slice(plan.rateUnit.indexOf("/") + 1);
  return finish([
    ...wrapText(plainText(plan.summary), width),
    "",
    ...textTable(
      [
        { heading: "\nzone", align: "left" },
        { heading: `\n${plan.areaUnit}`, align: "right" },
        { heading: `\nseeds/${area}`, align: "right" },
        { heading: "\nheld by", align: "left" },
        { heading: plan.seedsPerUnit === null ? "\nseeds in all" : "units\nof seed", align: "right" },
        { heading: "\nseed cost", align: "right" },
        { heading: `\n${plan.yieldUnit}`, align: "right" },
        { heading: `return\nper ${plan.moneyArea}`, align: "right" },
        ...(counted ? [{ heading: "too much\nlodges", align: "right" as const }] : []),
      ],
      rows,
      width,
    ),
    "",
    ...bullets(worthLines(plan), width),
    "",
    ...section("Notes", plan.notes, width),
    ...section("Be careful", plan.cautions, width),
  ]);
}

const heldBy: Readonly<Record<DensityLimit["name"], string>> = {
  ...names,
  "economic-optimum": "pays best",
  standability: "lodging",
};

/** What varying is worth, with its spread, and which single rate would do. */
function worthLines(plan: ZonePlan): string[] {
  const money = (value: number): string => moneyWords(value, plan.currency);
  const { total, uniform, uniformWithinLimits, value } = plan;
  const lines: string[] = [];
  if (uniform !== null) {
    lines.push(
      `Return of the whole field after seed: ${money(total.return.mean)} with these rates, ${money(uniform.return.mean)} with ${rateWords(uniform.rate, plan.rateUnit)} everywhere.`,
    );
  }
  if (value !== null) {
    const { lower, upper } = value.total.interval;
    const charged = value.cost > 0 ? `, after ${money(value.cost)} charged for varying` : "";
    lines.push(
      `Varying the rate, whole field: ${money(value.total.mean)}${charged}; likely between ${money(lower as number)} and ${money(upper as number)}.`,
    );
  }
  if (uniformWithinLimits !== null && uniformWithinLimits.rate !== uniform?.rate)
    lines.push(
      `The best single rate within every zone's limits is ${rateWords(uniformWithinLimits.rate, plan.rateUnit)}.`,
    );
  return lines;
}

function section(title: string, items: readonly string[], width: number): string[] {
  return items.length === 0 ? [] : [title, ...bullets(items, width), ""];
}

function bullets(items: readonly string[], width: number): string[] {
  return items.flatMap((item) => wrapText(plainText(item), width, "- ", "  "));
}

function finish(lines: readonly string[]): string {
  return `${lines.join("\n").trimEnd()}\n`;
}
