import type { HybridCheck } from "./checkTrial.ts";
import { blockKey, type UsablePlot } from "./layout.ts";
import { numberText } from "./numberText.ts";
import type { Trial } from "./trial.ts";

/** Something about the design to be careful with. */
export interface CheckWarning {
  readonly code:
    | "narrow-range"
    | "few-densities"
    | "few-blocks"
    | "unbalanced"
    | "confounded-with-block"
    | "confounded-with-position"
    | "ranges-do-not-overlap"
    | "missing-in-environment"
    | "rate-by-hybrid";
  /** Hybrid concerned; null: the whole trial. */
  readonly hybrid: string | null;
  /** Environment concerned; null: all. */
  readonly environment: string | null;
  readonly message: string;
}

/** Highest over lowest density at or below which an optimum is seldom bounded. */
const narrowRatio = 1.5;
/** Correlation of density with position, inside blocks, from which they cannot be told apart well: a convention. */
const confoundedCorrelation = 0.7;

/** All warnings about a design, worst first within each hybrid. */
export function checkWarnings(
  hybrids: readonly HybridCheck[],
  usable: readonly UsablePlot[],
  trial: Trial,
): CheckWarning[] {
  const unit = trial.densityUnit.replace("1000 ", "thousand ");
  return [
    ...hybrids.flatMap((check) => hybridWarnings(check, trial, unit)),
    ...blockWarnings(hybrids),
    ...positionWarnings(usable),
    ...overlapWarnings(hybrids, unit),
  ];
}

function hybridWarnings({ hybrid, pooled, environments }: HybridCheck, trial: Trial, unit: string): CheckWarning[] {
  const warnings: CheckWarning[] = [];
  const add = (code: CheckWarning["code"], environment: string | null, message: string): void => {
    warnings.push({ code, hybrid, environment, message });
  };
  const { lowest, highest } = pooled;
  if (
    lowest !== null &&
    highest !== null &&
    lowest > 0 &&
    highest > lowest &&
    highest <= narrowRatio * lowest * (1 + 1e-9)
  ) {
    add(
      "narrow-range",
      null,
      `${hybrid}: the densities run from ${numberText(lowest, 3)} to ${numberText(highest, 3)} ${unit} only (${numberText(highest / lowest, 3)} times). So narrow a range seldom bounds an optimum: in simulations of 24 to 36 thousand it stayed open in four trials of five. Spread the rates 30 to 40 % to either side of the expected optimum, and include one that is clearly too high.`,
    );
  }
  const levels = environments.reduce((most, one) => Math.max(most, one.densities), 0);
  if (levels > 0 && levels <= 4) {
    add(
      "few-densities",
      null,
      `${hybrid}: ${levels === 1 ? "one density" : `${levels} densities`} only. ${levels <= 2 ? "This can say whether more is better, not where the optimum lies." : "A range of five or six densities pins the optimum down better than more blocks do."}`,
    );
  }
  for (const one of environments) {
    if (one.terms === 0 && one.densities > 1)
      add(
        "confounded-with-block",
        one.environment,
        `${hybrid}, ${one.environment}: every block holds one density, so a difference between densities cannot be told from one between blocks.`,
      );
    else if (!one.balanced && trial.densityAxis !== "plot-stand")
      add(
        "unbalanced",
        one.environment,
        `${hybrid}, ${one.environment}: blocks do not all hold the same densities (${one.leastReplicated} to ${one.mostReplicated} plots per density); means over blocks are not comparable as they stand, the fitted curves are.`,
      );
  }
  const absent = trial.environments.filter((name) => !environments.some((one) => one.environment === name));
  if (absent.length > 0 && environments.length > 0) {
    add(
      "missing-in-environment",
      null,
      `${hybrid} has no usable plot in ${absent.slice(0, 4).join(", ")}${absent.length > 4 ? ` and ${absent.length - 4} more` : ""}; comparisons with other hybrids should use the environments they share.`,
    );
  }
  return warnings;
}

function blockWarnings(hybrids: readonly HybridCheck[]): CheckWarning[] {
  const most = new Map<string, number>();
  for (const { environments } of hybrids) {
    for (const { environment, blocks } of environments)
      if (environment !== null) most.set(environment, Math.max(most.get(environment) ?? 0, blocks));
  }
  return [...most].flatMap(([environment, blocks]): CheckWarning[] => {
    if (blocks >= 3) return [];
    const message = `${environment}: ${blocks === 1 ? "one block" : "two blocks"} only. At least three are needed before statistics mean much, and four to six are usual.`;
    return [{ code: "few-blocks", hybrid: null, environment, message }];
  });
}

/** Density that rises or falls along the field, or stands in the same order in every block. */
function positionWarnings(usable: readonly UsablePlot[]): CheckWarning[] {
  const environments = new Map<string, UsablePlot[]>();
  for (const plot of usable) {
    const list = environments.get(plot.environment) ?? [];
    environments.set(plot.environment, list);
    list.push(plot);
  }
  return [...environments].flatMap(([environment, plots]) =>
    (["order", "row", "column"] as const).flatMap((axis): CheckWarning[] => {
      const correlation = insideBlocks(plots, (plot) => plot.position[axis]);
      if (correlation === null || Math.abs(correlation) < confoundedCorrelation) return [];
      const message = `${environment}: density ${correlation > 0 ? "rises" : "falls"} along the field (correlation ${correlation.toFixed(2)} with ${axis === "order" ? "strip order" : `field ${axis}`} inside blocks), so a trend in the soil looks like a response. Rates should be randomised in every block.`;
      return [{ code: "confounded-with-position", hybrid: null, environment, message }];
    }),
  );
}

/** Correlation of density and position after block means are taken out; null when there is too little to judge. */
function insideBlocks(plots: readonly UsablePlot[], position: (plot: UsablePlot) => number | null): number | null {
  const placed = plots.flatMap((plot) => {
    const at = position(plot);
    return at === null ? [] : [{ block: blockKey(plot), x: plot.density, at }];
  });
  if (placed.length < 6) return null;
  const means = new Map<string, { n: number; x: number; at: number }>();
  for (const { block, x, at } of placed) {
    const known = means.get(block) ?? { n: 0, x: 0, at: 0 };
    means.set(block, { n: known.n + 1, x: known.x + x, at: known.at + at });
  }
  let xx = 0;
  let pp = 0;
  let xp = 0;
  for (const { block, x, at } of placed) {
    const mean = means.get(block);
    if (mean === undefined) continue;
    const dx = x - mean.x / mean.n;
    const dp = at - mean.at / mean.n;
    xx += dx * dx;
    pp += dp * dp;
    xp += dx * dp;
  }
  return xx > 0 && pp > 0 ? xp / Math.sqrt(xx * pp) : null;
}

function overlapWarnings(hybrids: readonly HybridCheck[], unit: string): CheckWarning[] {
  const ranges = hybrids.flatMap(({ hybrid, pooled }) =>
    pooled.lowest === null || pooled.highest === null ? [] : [{ hybrid, low: pooled.lowest, high: pooled.highest }],
  );
  if (ranges.length < 2) return [];
  const highestLow = ranges.reduce((a, b) => (b.low > a.low ? b : a));
  const lowestHigh = ranges.reduce((a, b) => (b.high < a.high ? b : a));
  if (ranges.every(({ low, high }) => low === high)) {
    return [
      {
        code: "rate-by-hybrid",
        hybrid: null,
        environment: null,
        message:
          "Every hybrid was grown at one density of its own, so a difference between hybrids cannot be told from one between densities.",
      },
    ];
  }
  if (highestLow.low < lowestHigh.high) return [];
  const message = `${lowestHigh.hybrid} was grown up to ${numberText(lowestHigh.high, 3)} and ${highestLow.hybrid} from ${numberText(highestLow.low, 3)} ${unit}: there is no density that all hybrids share, so their flex scores cannot be compared.`;
  return [{ code: "ranges-do-not-overlap", hybrid: null, environment: null, message }];
}
