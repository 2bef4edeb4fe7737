import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { streamRandom } from "../core/random.ts";
import type { Trial } from "../trial/trial.ts";
import type { CheckedPlot } from "./checkedPlot.ts";
import { checkCount } from "./chooseDensities.ts";
import { type PositionCheck, positionCheck } from "./positionCheck.ts";
import { systematicOrder } from "./systematicOrder.ts";

export type FindingCode =
  | "no-position"
  | "unbalanced"
  | "incomplete-block"
  | "one-block"
  | "few-rates"
  | "rate-confounded-with-block"
  | "hybrid-confounded-with-block"
  | "replicates-adjacent"
  | "same-order-in-blocks"
  | "rates-in-order"
  | "rate-confounded-with-position"
  | "hybrid-confounded-with-position"
  | "equal-neighbours";

/** Something wrong with a plan. `error`: it cannot answer its question; `warning`: look at it; `note`: for information. */
export interface LayoutFinding {
  readonly code: FindingCode;
  readonly severity: "error" | "warning" | "note";
  readonly environment: string | null;
  readonly message: string;
  /** Chance of something as regular in a random layout; null where that is not the question. */
  readonly chance: number | null;
}

/** One environment of a checked plan. */
export interface EnvironmentLayout {
  readonly environment: string | null;
  readonly plots: number;
  readonly blocks: number;
  readonly treatments: number;
  readonly rates: number;
  readonly leastReplicated: number;
  readonly mostReplicated: number;
  /** How rates and hybrids lie against row, column and order. */
  readonly position: readonly PositionCheck[];
  /** Plots side by side or end to end with the same rate and the same hybrid; null without rows and columns. */
  readonly equalNeighbours: number | null;
}

export interface LayoutCheck {
  readonly schema: "standcurve/layout-check/1";
  readonly environments: readonly EnvironmentLayout[];
  readonly findings: readonly LayoutFinding[];
  /** No error and no warning. */
  readonly sound: boolean;
  readonly permutations: number;
  readonly seed: number;
}

export interface CheckLayoutOptions {
  /** Random layouts that the position of rates and hybrids is compared with; default 1999. */
  readonly permutations?: number;
  readonly seed?: number;
}

/** What `CheckLayoutOptions` must look like. */
export const checkLayoutOptionsShape: { readonly [property: string]: Shape } = {
  permutations: "count?",
  seed: "number?",
};

/** Patterns rarer than this in random layouts are reported: one sound layout in a hundred is reported too. */
const RARE = 0.01;

/**
 * Checks a plan, whoever made it: is it balanced, was it randomised, do rates or hybrids go along with position?
 *
 * A layout drawn at random can be unlucky; what counts for the trial is how it lies, so an unlucky one is reported like a
 * systematic one, with the chance of it.
 *
 * @param plots - a `LayoutPlan`, a `Trial`, or plots with at least block, hybrid and rate; `order` or rows and columns for the rest
 * @throws AnalysisError `invalid-data` when there is no plot with a rate
 * @example
 * const rates = [20, 26, 32, 38];
 * const plots = [1, 2].flatMap((block) => rates.map((seedingRate, i) => ({ block, hybrid: "Amber 12", seedingRate, order: i })));
 * checkLayout(plots).findings.some((finding) => finding.code === "same-order-in-blocks"); // => true
 */
export function checkLayout(
  plots: readonly CheckedPlot[] | { readonly plots: readonly CheckedPlot[] } | Trial,
  options: CheckLayoutOptions = {},
): LayoutCheck {
  checkShape(Array.isArray(plots) ? { plots } : plots, "plots", { plots: "objects" });
  checkShape(options, "options", checkLayoutOptionsShape, "invalid-option");
  const { permutations = 1999, seed = 1 } = options;
  checkCount(permutations, seed);
  const all = plotsOf(plots).filter((plot) => (plot.kind ?? "plot") === "plot" && plot.seedingRate !== null);
  check(all.length > 0, "invalid-data", "no plot of the plan has a seeding rate");
  const names = [...new Set(all.map((plot) => plot.environment ?? null))];
  const findings: LayoutFinding[] = [];
  const environments = names.map((environment, e) => {
    const own = all.filter((plot) => (plot.environment ?? null) === environment);
    const add = (
      code: FindingCode,
      severity: LayoutFinding["severity"],
      message: string,
      chance: number | null = null,
    ): void => {
      findings.push({ code, severity, environment, message, chance });
    };
    return checkOne(own, environment, add, permutations, () => streamRandom(seed, e));
  });
  return {
    schema: "standcurve/layout-check/1",
    environments,
    findings,
    sound: findings.every(({ severity }) => severity === "note"),
    permutations,
    seed,
  };
}

function plotsOf(
  source: readonly CheckedPlot[] | { readonly plots: readonly CheckedPlot[] } | Trial,
): readonly CheckedPlot[] {
  if (!("plots" in source)) return source;
  return source.plots.map((plot) => ("position" in plot ? { ...plot, ...plot.position, kind: "plot" as const } : plot));
}

type Add = (code: FindingCode, severity: LayoutFinding["severity"], message: string, chance?: number | null) => void;

function checkOne(
  plots: readonly CheckedPlot[],
  environment: string | null,
  add: Add,
  permutations: number,
  random: () => ReturnType<typeof streamRandom>,
): EnvironmentLayout {
  const blocks = groupBy(plots, (plot) => String(plot.block));
  const treatments = groupBy(plots, treatmentOf);
  const rates = new Set(plots.map((plot) => plot.seedingRate));
  const hybrids = new Set(plots.map((plot) => plot.hybrid));
  const counts = [...treatments.values()].map((list) => list.length);
  const [least, most] = [Math.min(...counts), Math.max(...counts)];
  if (blocks.size < 2)
    add("one-block", "warning", "there is one block only, so nothing shows how repeatable the result is");
  if (rates.size < 4)
    add("few-rates", "warning", `${rates.size} rates say little about where the optimum is; five or six do better`);
  if (least !== most)
    add(
      "unbalanced",
      "warning",
      `treatments have ${least} to ${most} plots; comparisons are weakest where there are fewest`,
    );
  reportBlocks(blocks, treatments, rates.size, hybrids.size, add);

  const ordered = plots.every((plot) => plot.order != null);
  const placed = plots.every((plot) => plot.row != null && plot.column != null);
  if (!ordered && !placed) {
    add("no-position", "note", "the plan says neither order nor row and column, so randomisation cannot be checked");
    return {
      environment,
      plots: plots.length,
      blocks: blocks.size,
      treatments: treatments.size,
      rates: rates.size,
      leastReplicated: least,
      mostReplicated: most,
      position: [],
      equalNeighbours: null,
    };
  }
  const walk = (plot: CheckedPlot): number =>
    ordered ? (plot.order as number) : (plot.row as number) * 1e6 + (plot.column as number);
  const sequences = [...blocks.values()].map((list) => [...list].sort((a, b) => walk(a) - walk(b)));
  const { sameOrder, inOrder, adjacent } = systematicOrder(sequences, treatmentOf);
  if (sameOrder !== null)
    add(
      "same-order-in-blocks",
      sameOrder < RARE ? "warning" : "note",
      `all blocks have the same order of treatments (${chanceText(sameOrder)})`,
      sameOrder,
    );
  if (inOrder !== null)
    add(
      "rates-in-order",
      inOrder < RARE ? "warning" : "note",
      `rates rise or fall from plot to plot in every block (${chanceText(inOrder)})`,
      inOrder,
    );
  if (adjacent)
    add(
      "replicates-adjacent",
      "error",
      "plots of one treatment stand side by side: they repeat the measurement, not the trial, and count as one plot",
    );

  const axes = [...(placed ? (["column", "row"] as const) : []), ...(ordered ? (["order"] as const) : [])];
  const position = axes.flatMap((axis) => {
    const at = plots.map((plot) => plot[axis] as number);
    return new Set(at).size > 1 ? [positionCheck(plots, axis, at, permutations, random())] : [];
  });
  for (const { axis, rateCorrelation: r, rateChance, slopeBias, hybridChance } of position) {
    if (r !== null && rateChance !== null && rateChance < RARE)
      add(
        "rate-confounded-with-position",
        "warning",
        `rates go along with ${axis} (correlation ${r.toFixed(2)} within blocks; ${chanceText(rateChance)}): a trend in the field of 1 yield unit for each step of ${axis} would show as ${Number((slopeBias ?? 0).toPrecision(2))} per unit of rate`,
        rateChance,
      );
    if (hybridChance !== null && hybridChance < RARE)
      add(
        "hybrid-confounded-with-position",
        "warning",
        `hybrids lie apart along ${axis} (${chanceText(hybridChance)})`,
        hybridChance,
      );
  }
  const equal = placed ? equalNeighbours(plots) : null;
  if (equal !== null && equal > 0)
    add("equal-neighbours", "note", `${equal} pair(s) of neighbouring plots have the same hybrid and rate`);
  return {
    environment,
    plots: plots.length,
    blocks: blocks.size,
    treatments: treatments.size,
    rates: rates.size,
    leastReplicated: least,
    mostReplicated: most,
    position,
    equalNeighbours: equal,
  };
}

function reportBlocks(
  blocks: ReadonlyMap<string, readonly CheckedPlot[]>,
  treatments: ReadonlyMap<string, readonly CheckedPlot[]>,
  rates: number,
  hybrids: number,
  add: Add,
): void {
  const lists = [...blocks.values()];
  const incomplete = lists.filter((list) => new Set(list.map(treatmentOf)).size < treatments.size).length;
  const repeated = lists.filter((list) => new Set(list.map(treatmentOf)).size < list.length).length;
  if (incomplete > 0 && blocks.size > 1)
    add(
      "incomplete-block",
      "warning",
      `${incomplete} of ${blocks.size} blocks lack some treatment, so blocks and treatments are entangled`,
    );
  if (repeated > 0 && blocks.size > 1)
    add("incomplete-block", "note", `${repeated} of ${blocks.size} blocks hold a treatment more than once`);
  const bent = lists.some((list) =>
    [...groupBy(list, (plot) => String(plot.hybrid)).values()].some(
      (one) => new Set(one.map((plot) => plot.seedingRate)).size > 1,
    ),
  );
  if (rates > 1 && !bent)
    add(
      "rate-confounded-with-block",
      "error",
      "no block holds two rates of one hybrid, so rates cannot be told from blocks",
    );
  if (hybrids > 1 && lists.every((list) => new Set(list.map((plot) => plot.hybrid)).size === 1))
    add(
      "hybrid-confounded-with-block",
      "error",
      "every block holds one hybrid only, so hybrids cannot be told from blocks",
    );
}

function equalNeighbours(plots: readonly CheckedPlot[]): number {
  const at = new Map(plots.map((plot) => [`${plot.row},${plot.column}`, treatmentOf(plot)]));
  let count = 0;
  for (const plot of plots) {
    const own = treatmentOf(plot);
    if (at.get(`${plot.row},${(plot.column as number) + 1}`) === own) count++;
    if (at.get(`${(plot.row as number) + 1},${plot.column}`) === own) count++;
  }
  return count;
}

const treatmentOf = (plot: CheckedPlot): string => JSON.stringify([plot.hybrid, plot.seedingRate]);

function groupBy<T>(items: readonly T[], key: (item: T) => string): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const item of items) {
    const list = groups.get(key(item));
    if (list) list.push(item);
    else groups.set(key(item), [item]);
  }
  return groups;
}

function chanceText(p: number): string {
  return p < 0.0001
    ? "less than 1 in 10,000 random layouts"
    : `about ${Number((100 * p).toPrecision(2))} % of random layouts`;
}
