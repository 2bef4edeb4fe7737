import { checkShape, type Shape } from "../core/checkShape.ts";
import type { LayoutCheck } from "../plan/checkLayout.ts";
import type { DensityChoice, JudgedDensities } from "../plan/chooseDensities.ts";
import { fieldMap } from "../plan/fieldMap.ts";
import type { LayoutPlan } from "../plan/layoutPlan.ts";
import type { Share, SimulatedMean } from "../plan/share.ts";
import { goalShare, type PowerResult } from "../plan/trialPower.ts";
import type { WhatNext } from "../plan/whatNext.ts";
import { countOf, fixed, listText, significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { type TextColumn, textTable } from "./textTable.ts";

export interface PlanTextOptions {
  /** Columns; default 100. Field maps and tables of many figures may be wider. */
  readonly width?: number;
}

/** What `PlanTextOptions` must look like. */
export const planTextOptionsShape: { readonly [property: string]: Shape } = { width: "number?" };

const left = (heading: string): TextColumn => ({ heading, align: "left" });
const right = (heading: string): TextColumn => ({ heading, align: "right" });

/**
 * A layout as text: what it is, a map of every environment, notes and cautions.
 *
 * @example
 * const plan = layoutTrial({ hybrids: ["Amber 12"], rates: [20, 30, 40], densityUnit: "1000 plants/ac", blocks: 2 });
 * layoutText(plan).split("\n")[0]; // => "Layout"
 */
export function layoutText(plan: LayoutPlan, options: PlanTextOptions = {}): string {
  checkShape(plan, "plan", "standcurve/layout-plan/1");
  checkShape(options, "options", planTextOptionsShape, "invalid-option");
  const { width = 100 } = options;
  const designs = {
    "complete-block": "complete blocks",
    "split-plot": "split-plot",
    strips: "strips",
    "latin-square": "Latin square",
  } as const;
  const main = plan.mainPlot === null ? "" : `, ${plan.mainPlot === "hybrid" ? "hybrids" : "rates"} on main plots`;
  const planted = plan.plots.filter((plot) => plot.kind === "plot").length;
  const text =
    `${countOf(plan.hybrids.length, "hybrid")} at ${countOf(plan.rates.length, "seeding rate")} (${plan.rates.join(", ")} ${seeds(plan.densityUnit)}), ` +
    `${designs[plan.design]}${main}: ${countOf(plan.blocks, "block")} in ${countOf(Math.max(plan.environments.length, 1), "place")}, ${countOf(planted, "plot")}. ` +
    `Drawn with seed ${plan.seed}; the same options and seed draw the same layout.`;
  const maps = (plan.environments.length > 1 ? plan.environments : [undefined]).flatMap((environment) => [
    ...(environment === undefined ? [] : [plainText(environment), ""]),
    fieldMap(plan, environment).trimEnd(),
    "",
  ]);
  return page("Layout", [...wrapText(text, width), "", ...maps, ...remarks(plan, width)]);
}

/**
 * A check of a plan as text.
 *
 * @example
 * const plan = layoutTrial({ hybrids: ["Amber 12"], rates: [20, 30, 40], densityUnit: "1000 plants/ac", blocks: 4 });
 * layoutCheckText(checkLayout(plan)).length > 0; // => true
 */
export function layoutCheckText(check: LayoutCheck, options: PlanTextOptions = {}): string {
  checkShape(check, "check", "standcurve/layout-check/1");
  checkShape(options, "options", planTextOptionsShape, "invalid-option");
  const { width = 100 } = options;
  const lines = check.environments.flatMap(
    ({ environment, plots, blocks, treatments, leastReplicated, mostReplicated, position }) => [
      ...wrapText(
        `${environment === null ? "The plan" : plainText(environment)}: ${countOf(plots, "plot")}, ${countOf(blocks, "block")}, ${countOf(treatments, "treatment")} with ${leastReplicated === mostReplicated ? leastReplicated : `${leastReplicated} to ${mostReplicated}`} plots each.`,
        width,
      ),
      ...position.flatMap(({ axis, rateCorrelation, rateChance }) =>
        rateCorrelation === null || rateChance === null
          ? []
          : [
              `  rate against ${axis}: correlation ${rateCorrelation.toFixed(2)} within blocks, as far from 0 in ${percent(rateChance)} of random layouts`,
            ],
      ),
    ],
  );
  const findings = check.findings.flatMap(({ severity, environment, message }) =>
    wrapText(
      `${severity}: ${environment === null ? "" : `${plainText(environment)}: `}${message}`,
      width,
      "  - ",
      "    ",
    ),
  );
  const verdict = check.sound ? "Nothing speaks against this layout." : "This layout has faults:";
  return page("Check of the layout", [...lines, "", verdict, ...findings]);
}

/**
 * A choice of densities as text: the recommended set, and how the others compare.
 *
 * @returns lines with their ends
 * @example
 * const prior = { optimum: [30, 36], lossBelow: { distance: 10, loss: 8 }, bestYield: 200 } as const;
 * densitiesText(chooseDensities({ prior, steps: { from: 16, to: 46, step: 6 }, count: 4, sigma: 5, simulations: 100 })).length > 0; // => true
 */
export function densitiesText(choice: DensityChoice, options: PlanTextOptions = {}): string {
  checkShape(choice, "choice", "standcurve/density-choice/1");
  checkShape(options, "options", planTextOptionsShape, "invalid-option");
  const { width = 100 } = options;
  const { recommended: best, even, densityUnit } = choice;
  const unit = seeds(densityUnit);
  const purpose = {
    bounded: "is the most likely to bound the optimum on both sides",
    precision: "leaves the least uncertainty about the optimum",
    discrimination: "is the most likely to show the true shape of the curve",
  }[choice.criterion];
  const text =
    `Of all ${fixed(choice.searched, 0)} sets of ${choice.count} rates that the steps allow, ${best.densities.join(", ")} ${unit} ${purpose}. ` +
    `With ${countOf(choice.blocks, "block")}${choice.environments > 1 ? ` in each of ${choice.environments} places` : ""} and a scatter of ${significant(choice.noise.sigma, 3)} ${choice.yieldUnit} between plots (${choice.noise.source}) ` +
    `the interval of the optimum is bounded in ${shareText(best.bounded)} of trials; with evenly spread rates (${even.densities.join(", ")}) in ${shareText(even.bounded)}.`;
  const row = (name: string, set: JudgedDensities): string[] => [
    name,
    set.densities.join(" "),
    String(set.plots),
    percentCell(set.bounded),
    significant(set.remainingSd, 3),
    set.standardError === null ? "none" : significant(set.standardError, 3),
    percentCell(set.familyFound),
    set.hasTooHigh ? "yes" : "no",
  ];
  const rows = [
    row("recommended", best),
    row("best: bounded", choice.best.bounded),
    row("best: precision", choice.best.precision),
    row("best: shape", choice.best.discrimination),
    row("evenly spread", even),
    ...choice.compared.map((set, i) => row(`compared ${i + 1}`, set)),
  ];
  const table = textTable(
    [
      left("set"),
      left("rates"),
      right("plots"),
      right("optimum\nbounded %"),
      right("SD left"),
      right("SE"),
      right("shape\nfound %"),
      right("one too\nhigh"),
    ],
    rows,
    width,
  );
  const needed =
    choice.highestNeeded === null
      ? []
      : wrapText(
          `Every set looked at has a rate of ${significant(choice.highestNeeded, 3)} or more: one that is clearly too high closes the upper end.`,
          width,
        );
  const legend = wrapText(
    "SD left: standard deviation of the optimum after the trial, what was known before included. SE: standard error by the trial alone, averaged over the curves thought possible. Chances with their simulation error.",
    width,
  );
  return page("Densities for the trial", [
    ...wrapText(text, width),
    "",
    ...table,
    "",
    ...needed,
    ...legend,
    "",
    ...remarks(choice, width),
  ]);
}

/**
 * Power of planned trials as text: the answer, and a line for each design.
 *
 * @returns lines with their ends
 * @example
 * const prior = { optimum: [30, 36], lossBelow: { distance: 10, loss: 8 }, bestYield: 200 } as const;
 * powerText(trialPower({ densities: [18, 28, 38], blocks: [4], prior, sigma: 5, simulations: 100 })).length > 0; // => true
 */
export function powerText(result: PowerResult, options: PlanTextOptions = {}): string {
  checkShape(result, "result", "standcurve/trial-power/1");
  checkShape(options, "options", planTextOptionsShape, "invalid-option");
  const { width = 100 } = options;
  const { points, goal, enough, smallest, yieldUnit, densityUnit } = result;
  const goals = {
    bounded: "the optimum is bounded on both sides",
    within: `the optimum is known to within ${result.halfWidth ?? 0} ${seeds(densityUnit)}`,
    gain: "the gain over the present rate is seen",
    flex: "the two hybrids' flex scores are told apart",
    lodging: "the standability limit is bounded on both sides",
  } as const;
  const found = smallest === null ? null : points[smallest];
  const best = points.reduce<number | null>((top, point) => {
    const value = goalShare(point, goal)?.value ?? null;
    return value !== null && (top === null || value > top) ? value : top;
  }, null);
  const answer =
    found === null
      ? `None of these designs reaches a chance of ${percent(enough)} that ${goals[goal]}; the best has ${best === null ? "no chance that could be judged" : percent(best)}.`
      : `${fixed(found.plots, 0)} plots (${designText(found)}) are the fewest with a chance of ${percent(enough)} that ${goals[goal]}: ${shareText(goalShare(found, goal) as Share)}.`;
  const basis = `Scatter between plots ${significant(result.noise.sigma, 3)} ${yieldUnit} (${result.noise.source}); ${result.prior.source}; ${fixed(result.simulations, 0)} simulated trials of each design, seed ${result.seed}.`;
  const extra = points[0];
  const columns = [
    left("rates"),
    right("blocks"),
    right("sites"),
    right("years"),
    right("plots"),
    right("bounded\n%"),
    right("holds the\ntruth %"),
    right("median\nwidth"),
    ...(extra?.optimum.within ? [right("within\n%")] : []),
    ...(extra?.optimum.gain ? [right("gain\nseen %")] : []),
    ...(extra?.flex ? [right("flex\ntold %")] : []),
    ...(extra?.lodging ? [right("lodging\nlimit %")] : []),
    right("yield\nlost"),
    ...(extra?.budget
      ? [right("area"), right("seed\nunits"), ...(extra.budget.cost === null ? [] : [right("cost")])]
      : []),
    right("failed"),
  ];
  const rows = points.map((point) => [
    point.densities.join(" "),
    String(point.blocks),
    String(point.sites),
    String(point.years),
    fixed(point.plots, 0),
    percentCell(point.optimum.bounded),
    percentCell(point.optimum.covered),
    point.optimum.width.median === null ? "none" : significant(point.optimum.width.median, 3),
    ...(point.optimum.within ? [percentCell(point.optimum.within)] : []),
    ...(point.optimum.gain ? [percentCell(point.optimum.gain.seen)] : []),
    ...(point.flex ? [percentCell(point.flex.told)] : []),
    ...(point.lodging ? [percentCell(point.lodging.bounded)] : []),
    meanCell(point.optimum.regret),
    ...(point.budget
      ? [
          `${significant(point.budget.area.value, 3)} ${point.budget.area.unit}`,
          significant(point.budget.seedUnits, 3),
          ...(point.budget.cost === null ? [] : [fixed(point.budget.cost, 0)]),
        ]
      : []),
    point.optimum.failed.count === 0 ? "none" : fixed(point.optimum.failed.count, 0),
  ]);
  const failures = [...new Set(points.flatMap(({ optimum }) => optimum.failed.reason ?? []))].flatMap((reason) =>
    wrapText(`Failed: ${reason}. Such trials are left out of the shares.`, width),
  );
  const legend = wrapText(
    `Chances with their simulation error. Median width: of the bounded intervals. Yield lost: by planting the best rate of the trial instead of the truly best one, ${yieldUnit}, on average.`,
    width,
  );
  return page("What these trials can tell", [
    ...wrapText(answer, width),
    ...wrapText(basis, width),
    "",
    ...textTable(columns, rows, Math.max(width, 150)),
    "",
    ...legend,
    ...failures,
    "",
    ...remarks(result, width),
  ]);
}

/**
 * What to add to a trial, as text.
 *
 * @returns lines with their ends
 * @example
 * const next = whatNext(analysis, { hybrid: "Amber 12", blocks: [2], sites: [], densities: [], simulations: 20 });
 * whatNextText(next).length > 0; // => true
 */
export function whatNextText(next: WhatNext, options: PlanTextOptions = {}): string {
  checkShape(next, "next", "standcurve/what-next/1");
  checkShape(options, "options", planTextOptionsShape, "invalid-option");
  const { width = 100 } = options;
  const { now, additions, recommended, densityUnit, yieldUnit, best } = next;
  const show = (value: number): string => significant(value, 3);
  const range = now.bounded
    ? `between ${show(now.lower as number)} and ${show(now.upper as number)}`
    : now.lower === null && now.upper === null
      ? "not bounded on either side"
      : now.lower === null
        ? `at ${show(now.upper as number)} or less`
        : `at ${show(now.lower)} or more`;
  const state = `${plainText(next.hybrid)} so far: ${countOf(now.plots, "plot")} in ${countOf(now.blocks, "block")} of ${countOf(now.environments, "environment")}. The optimum is ${range} (${densityUnit}, ${significant(100 * next.level, 4)} %); planting at ${show(now.rate)}, which loses least on average over all curves still possible, is expected to lose ${show(now.regret.value ?? 0)} ${yieldUnit}.`;
  const one = recommended === null ? null : additions[recommended];
  const answer =
    one === null
      ? "None of the additions looked at changes that by more than the noise of the simulation."
      : `Most is bought by ${one.label} (${countOf(one.plots, "plot")}): the optimum is then bounded in ${shareText(one.bounded)} of cases, and ${show(one.saved.value ?? 0)} ${yieldUnit} more yield is expected.`;
  const perPlotIndex =
    one !== null && recommended === best.bounded && !now.bounded ? best.boundedPerPlot : best.savedPerPlot;
  const perPlot =
    perPlotIndex === null || perPlotIndex === recommended
      ? []
      : wrapText(
          `For each plot added, ${(additions[perPlotIndex] as WhatNext["additions"][number]).label} buys most.`,
          width,
        );
  const table = textTable(
    [
      left("addition"),
      right("plots"),
      right("bounded\n%"),
      right("mean\nwidth"),
      right("yield\nlost"),
      right("saved"),
      right("saved per\n100 plots"),
    ],
    additions.map((each) => [
      each.label,
      String(each.plots),
      percentCell(each.bounded),
      each.width.value === null ? "none" : show(each.width.value),
      meanCell(each.regret),
      meanCell(each.saved),
      each.saved.value === null ? "none" : show((100 * each.saved.value) / each.plots),
    ]),
    width,
  );
  return page("What to add to this trial", [
    ...wrapText(state, width),
    ...wrapText(answer, width),
    ...perPlot,
    "",
    ...table,
    "",
    ...remarks(next, width),
  ]);
}

function page(title: string, lines: readonly string[]): string {
  return `${[title, "=".repeat(title.length), "", ...lines].join("\n").trimEnd()}\n`;
}

function remarks(
  { notes, cautions }: { notes: readonly string[]; cautions: readonly string[] },
  width: number,
): string[] {
  const list = (items: readonly string[]): string[] =>
    items.flatMap((item) => wrapText(plainText(item), width, "  - ", "    "));
  return [
    ...(notes.length > 0 ? ["Notes", "", ...list(notes), ""] : []),
    ...(cautions.length > 0 ? ["Read with care", "", ...list(cautions)] : []),
  ];
}

const seeds = (densityUnit: string): string =>
  densityUnit.replace("1000 plants", "thousand seeds").replace("plants", "seeds");
const percent = (share: number): string => `${significant(100 * share, 3)} %`;

/** "63 % (+-1.1)": a chance with its Monte-Carlo error in points. */
function shareText({ value, error }: Share): string {
  if (value === null) return "no share";
  return `${(100 * value).toFixed(0)} % (+-${(100 * (error ?? 0)).toFixed(1)})`;
}

function percentCell({ value, error }: Share): string {
  return value === null ? "none" : `${(100 * value).toFixed(0)} +-${(100 * (error ?? 0)).toFixed(1)}`;
}

function meanCell({ value, error }: SimulatedMean): string {
  if (value === null) return "none";
  return error === null ? significant(value, 2) : `${value.toFixed(2)} +-${error.toFixed(2)}`;
}

function designText({ densities, blocks, sites, years }: PowerResult["points"][number]): string {
  return listText([
    countOf(densities.length, "rate"),
    countOf(blocks, "block"),
    countOf(sites, "site"),
    countOf(years, "year"),
  ]);
}
