import type { Plot } from "./trial.ts";

/** What a set of plots looks like to a curve: counts and spread, before any yield is looked at. */
export interface Layout {
  /** Plots with density and yield that are not excluded. */
  readonly plots: number;
  /** Blocks, those of different environments counted apart. */
  readonly blocks: number;
  /** Different densities on the trial's axis. */
  readonly densities: number;
  /** Lowest and highest density, in the trial's unit; null without plots. */
  readonly lowest: number | null;
  readonly highest: number | null;
  /** Fewest and most plots at one density. */
  readonly leastReplicated: number;
  readonly mostReplicated: number;
  /** Does every block hold every density of its environment the same number of times? */
  readonly balanced: boolean;
  /** How many of the terms x, x^2, x^3 can be told apart inside blocks: 0 to 3. */
  readonly terms: 0 | 1 | 2 | 3;
  /** Degrees of freedom of pure error: plots beyond one per block-and-density pattern; 0 without replication. */
  readonly pureErrorDof: number;
}

/** A plot that a yield curve can use. */
export interface UsablePlot extends Plot {
  readonly density: number;
  readonly yield: number;
}

export function isUsable(plot: Plot): plot is UsablePlot {
  return plot.excluded === null && plot.density !== null && plot.yield !== null;
}

/** Block label that is unique over environments. */
export const blockKey = (plot: Plot): string => JSON.stringify([plot.environment, plot.block]);

/** Describes the plots of one curve. */
export function describeLayout(plots: readonly UsablePlot[]): Layout {
  const perDensity = countBy(plots, (plot) => plot.density);
  const perBlock = countBy(plots, blockKey);
  const counts = [...perDensity.values()];
  const densities = [...perDensity.keys()];
  return {
    plots: plots.length,
    blocks: perBlock.size,
    densities: perDensity.size,
    lowest: plots.length === 0 ? null : densities.reduce((a, b) => Math.min(a, b)),
    highest: plots.length === 0 ? null : densities.reduce((a, b) => Math.max(a, b)),
    leastReplicated: counts.reduce((a, b) => Math.min(a, b), plots.length),
    mostReplicated: counts.reduce((a, b) => Math.max(a, b), 0),
    balanced: isBalanced(plots),
    terms: termsInsideBlocks(plots),
    pureErrorDof: plots.length - (perBlock.size + perDensity.size - components(plots)),
  };
}

function countBy<Key>(plots: readonly UsablePlot[], key: (plot: UsablePlot) => Key): Map<Key, number> {
  const counts = new Map<Key, number>();
  for (const plot of plots) counts.set(key(plot), (counts.get(key(plot)) ?? 0) + 1);
  return counts;
}

/** Every block of an environment holds each of that environment's densities equally often. */
function isBalanced(plots: readonly UsablePlot[]): boolean {
  const levels = new Map<string, Set<number>>();
  for (const plot of plots) levels.set(plot.environment, (levels.get(plot.environment) ?? new Set()).add(plot.density));
  const cells = countBy(plots, (plot) => JSON.stringify([plot.environment, plot.block, plot.density]));
  const blocks = new Map<string, string>(plots.map((plot) => [blockKey(plot), plot.environment]));
  let wanted = 0;
  for (const environment of blocks.values()) wanted += levels.get(environment)?.size ?? 0;
  return cells.size === wanted && new Set(cells.values()).size <= 1;
}

/**
 * Connected parts of the block-by-density table. The additive model of blocks and densities as factors has rank
 * blocks + densities - parts, which is what pure error is counted against.
 */
function components(plots: readonly UsablePlot[]): number {
  const parent = new Map<string, string>();
  const find = (name: string): string => {
    let root = name;
    for (let up = parent.get(root); up !== undefined && up !== root; up = parent.get(root)) root = up;
    for (let at = name; at !== root; ) {
      const next = parent.get(at) ?? root;
      parent.set(at, root);
      at = next;
    }
    return root;
  };
  let parts = 0;
  const add = (name: string): void => {
    if (parent.has(name)) return;
    parent.set(name, name);
    parts += 1;
  };
  for (const plot of plots) {
    const block = blockKey(plot);
    const density = `density ${plot.density}`;
    add(block);
    add(density);
    const a = find(block);
    const b = find(density);
    if (a === b) continue;
    parent.set(a, b);
    parts -= 1;
  }
  return parts;
}

/** Rank of x, x^2, x^3 after block means are taken out, by Gram-Schmidt on x scaled to [-1, 1]. */
function termsInsideBlocks(plots: readonly UsablePlot[]): 0 | 1 | 2 | 3 {
  if (plots.length === 0) return 0;
  const x = plots.map((plot) => plot.density);
  const low = x.reduce((a, b) => Math.min(a, b));
  const high = x.reduce((a, b) => Math.max(a, b));
  if (high === low) return 0;
  const z = x.map((value) => (2 * (value - low)) / (high - low) - 1);
  const basis: Float64Array[] = [];
  for (const power of [1, 2, 3] as const) {
    const column = centred(
      z.map((value) => value ** power),
      plots,
    );
    const before = dot(column, column);
    for (const other of basis) {
      const share = dot(column, other) / dot(other, other);
      for (let i = 0; i < column.length; i++) column[i] = (column[i] ?? 0) - share * (other[i] ?? 0);
    }
    // Relative to its own size: rounding leaves about 1e-30, a real new direction far more than 1e-8.
    if (!(dot(column, column) > 1e-8 * before) || before < 1e-16) return (power - 1) as 0 | 1 | 2;
    basis.push(column);
  }
  return 3;
}

function centred(values: readonly number[], plots: readonly UsablePlot[]): Float64Array {
  const sums = new Map<string, { sum: number; count: number }>();
  plots.forEach((plot, i) => {
    const key = blockKey(plot);
    const known = sums.get(key) ?? { sum: 0, count: 0 };
    sums.set(key, { sum: known.sum + (values[i] ?? 0), count: known.count + 1 });
  });
  return Float64Array.from(plots, (plot, i) => {
    const { sum, count } = sums.get(blockKey(plot)) ?? { sum: 0, count: 1 };
    return (values[i] ?? 0) - sum / count;
  });
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += (a[i] ?? 0) * (b[i] ?? 0);
  return sum;
}
