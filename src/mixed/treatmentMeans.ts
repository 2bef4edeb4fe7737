import type { CellMeans } from "./adjustedMeans.ts";
import type { Factor } from "./analyseStrata.ts";
import { type MeanTable, meanTable } from "./meanTable.ts";
import { indexLevels } from "./randomTerm.ts";
import type { WholePlotFactor } from "./recogniseLayout.ts";
import type { SplitPlotErrors } from "./splitPlotErrors.ts";
import type { VariancePlots } from "./varianceData.ts";

/** Levels of a factor, numbers in numeric order. */
function orderedLevels(factor: Factor): string[] {
  const { levels } = indexLevels(Array.from(factor.labels, String));
  return factor.name === "density" ? levels.sort((a, b) => Number(a) - Number(b)) : levels;
}

/** Levels of one factor with their means over the levels of the other, and the plots behind each. */
export interface MarginalMeans {
  readonly levels: readonly string[];
  /** Null where a level was not grown at all levels of the other factor. */
  readonly means: readonly (number | null)[];
  readonly replication: readonly number[];
  /** Cells of each level. */
  readonly members: readonly (readonly number[])[];
}

/** Means of one factor over the levels of the other, without comparisons. */
export function marginalMeans(
  { cells, parts, means }: CellMeans,
  treatments: readonly Factor[],
  factor: Factor,
): MarginalMeans {
  const at = treatments.indexOf(factor);
  const levels = orderedLevels(factor);
  const others = treatments.length > 1 ? new Set(Array.from(treatments[1 - at].labels, String)).size : 1;
  const members = levels.map((name) => cells.flatMap((_, c) => (parts[c][at] === name ? [c] : [])));
  return {
    levels,
    means: members.map((own) => (own.length < others ? null : own.reduce((sum, i) => sum + means[i], 0) / own.length)),
    replication: levels.map((name) => Array.from(factor.labels, String).filter((label) => label === name).length),
    members,
  };
}

/** Means of one factor over the levels of the other, compared. */
export function marginalTable(
  { cells, unscaled }: CellMeans,
  { levels, means, replication, members }: MarginalMeans,
  factor: Factor,
  error: { ms: number; df: number },
  level: number,
): MeanTable {
  const c = cells.length;
  const vcov = (i: number, j: number): number => {
    let sum = 0;
    for (const a of members[i]) for (const b of members[j]) sum += unscaled[a * c + b];
    return (error.ms * sum) / (members[i].length * members[j].length);
  };
  return meanTable(factor.name, levels, means, replication, vcov, error.df, level);
}

/** Means of the combinations of hybrid and density. */
export function cellTable(
  plots: VariancePlots,
  { cells, parts, means, unscaled, index }: CellMeans,
  treatments: readonly Factor[],
  error: { ms: number; df: number } | null,
  split: SplitPlotErrors | null,
  wholePlot: WholePlotFactor | null,
  level: number,
): MeanTable | null {
  if (error === null) return null;
  const c = cells.length;
  const replication = cells.map((_, i) => index.filter((at) => at === i).length);
  if (split === null) {
    const vcov = (i: number, j: number): number => error.ms * unscaled[i * c + j];
    return meanTable("hybrid x density", cells, [...means], replication, vcov, error.df, level);
  }
  const r = new Set(plots.block).size;
  const at = treatments.findIndex(({ name }) => name === wholePlot);
  const whole = parts.map((part) => part[at]);
  const sub = (split.subWithinWhole * split.subWithinWhole) / 2;
  const shared = split.wholePlotVariance / r;
  const vcov = (i: number, j: number): number => (i === j ? sub + shared : whole[i] === whole[j] ? shared : 0);
  const dof = (i: number, j: number): number => (whole[i] === whole[j] ? split.dofSub : split.satterthwaiteDof);
  return meanTable("hybrid x density", cells, [...means], replication, vcov, dof, level);
}
