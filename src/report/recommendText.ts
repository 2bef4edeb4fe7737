import type { DensityLimit } from "../recommend/densityLimit.ts";
import type { Recommendation } from "../recommend/recommendation.ts";
import type { StepPlan } from "../recommend/stepPlan.ts";
import { moneyWords, rateWords } from "../recommend/summary.ts";
import type { ZonePlan } from "../recommend/zonePlan.ts";
import { countOf, fixed, listText, percentage, significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { textTable } from "./textTable.ts";

export interface RecommendTextOptions {
  /** Columns of the page; default 80. */
  readonly width?: number;
}

const names: Readonly<Record<DensityLimit["name"], string>> = {
  "economic-optimum": "best-paying density",
  standability: "standability",
  feeding: "feeding",
  "nitrogen-from-data": "nitrogen (from the trial)",
  "tested-range": "tested range",
  "accepted-step": "accepted step",
};

/** A recommendation as plain text: the paragraph, the limits side by side, what was assumed, and what to be careful with. */
export function recommendText(r: Recommendation, { width = 80 }: RecommendTextOptions = {}): string {
  const rate = (value: number): string => rateWords(value, r.rateUnit, 3).replace(/ seeds\/.*$/, "");
  const area = r.rateUnit.slice(r.rateUnit.indexOf("/") + 1);
  const { limits } = r;
  const rows = [
    limits.economicOptimum,
    limits.standability,
    limits.feeding,
    limits.nitrogenFromData,
    limits.lowestTested,
    limits.highestTested,
    limits.acceptedStep,
  ].map((limit, i) => [
    `${names[limit.name]}${i === 4 ? ", lowest" : i === 5 ? ", highest" : ""}${limit.name === r.bindingLimit && !(i === 4 && r.rate > (limit.rate ?? 0) * 1.1) ? " *" : ""}`,
    limitWords(limit, rate),
    limit.interval === null ? "" : rangeWords(limit.interval.lower, limit.interval.upper, rate),
    limit.stand === null ? "" : rate(limit.stand),
  ]);
  const without = r.evidence.elsewhere;
  const lines = [
    ...wrapText(plainText(r.summary), width),
    "",
    ...textTable(
      [
        { heading: "limit (* binds)", align: "left" },
        { heading: `seeds/${area}`, align: "right" },
        { heading: `${percentage(level(r))} range`, align: "right" },
        { heading: `plants/${area}`, align: "right" },
      ],
      rows,
      width,
    ),
    "",
    ...bullets(
      [limits.economicOptimum, limits.standability, limits.feeding].map(({ basis }) => basis),
      width,
    ),
    ...(limits.nitrogenFromData.kind === "none" ? [] : bullets([limits.nitrogenFromData.basis], width)),
    ...(without === null
      ? []
      : bullets(
          [
            `Curves of this trial and published results for the crop together; without those the rate would be ${rateWords(without.rateWithout, r.rateUnit)}. Source: ${without.source}.`,
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

function limitWords({ kind, rate }: DensityLimit, show: (value: number) => string): string {
  if (kind === "none" || rate === null) return "none";
  if (kind === "at-lowest") return `${show(rate)} or less`;
  return kind === "at-highest" ? `${show(rate)} or more` : show(rate);
}

function rangeWords(lower: number | null, upper: number | null, show: (value: number) => string): string {
  if (lower === null) return upper === null ? "not bounded" : `${show(upper)} or less`;
  return upper === null ? `${show(lower)} or more` : `${show(lower)} to ${show(upper)}`;
}

/** A step plan as plain text. */
export function stepPlanText(plan: StepPlan, { width = 80 }: RecommendTextOptions = {}): string {
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

/** A plan by zones as plain text. */
export function zonePlanText(plan: ZonePlan, { width = 80 }: RecommendTextOptions = {}): string {
  const money = (value: number): string => moneyWords(value, plan.currency);
  const rows = plan.zones.map((zone) => [
    plainText(zone.id),
    fixed(zone.area, 1),
    rateWords(zone.rate, plan.rateUnit).replace(/ seeds\/.*$/, ""),
    names[zone.bindingLimit],
    zone.units === null ? fixed(zone.seeds, 0) : fixed(zone.units, 1),
    money(zone.seedCost),
    fixed(zone.yield.mean, 1),
    money(zone.return.mean),
  ]);
  return finish([
    ...wrapText(plainText(plan.summary), width),
    "",
    ...textTable(
      [
        { heading: "zone", align: "left" },
        { heading: plan.areaUnit, align: "right" },
        { heading: "seeds", align: "right" },
        { heading: "held by", align: "left" },
        { heading: plan.seedsPerUnit === null ? "seeds in all" : "units", align: "right" },
        { heading: "seed cost", align: "right" },
        { heading: plan.yieldUnit, align: "right" },
        { heading: `return\nper ${plan.moneyArea}`, align: "right" },
      ],
      rows,
      width,
    ),
    "",
    ...(plan.value === null
      ? []
      : bullets(
          [
            `Varying the rate, whole field: ${money(plan.value.total.mean)} (${money(plan.value.total.interval.lower as number)} to ${money(plan.value.total.interval.upper as number)}), charged ${money(plan.value.cost)} for it.`,
          ],
          width,
        )),
    ...(plan.uniformWithinLimits === null || plan.uniformWithinLimits.rate === plan.uniform?.rate
      ? []
      : bullets(
          [
            `The best single rate within every zone's limits is ${rateWords(plan.uniformWithinLimits.rate, plan.rateUnit)}.`,
          ],
          width,
        )),
    "",
    ...section("Notes", plan.notes, width),
    ...section("Be careful", plan.cautions, width),
  ]);
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
