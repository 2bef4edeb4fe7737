import { pow } from "../core/elementary.ts";
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
  /** Degrees of freedom of pure error: plots - rank of blocks and densities as factors; 0 without replication. */
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
export const blockKey = (plot: Plot): string => `${plot.environment}\u0000${plot.block}`;

/** Describes the plots of one curve; cost grows with their number only. */
export function describeLayout(plots: readonly UsablePlot[]): Layout {
  const n = plots.length;
  const x = Float64Array.from(plots, (plot) => plot.density);
  const block = numbered(plots.map(blockKey));
  const level = numbered(x);

  return {
    plots: n,
    blocks: block.count,
    densities: level.count,
    lowest: n === 0 ? null : x.reduce((a, b) => Math.min(a, b)),
    highest: n === 0 ? null : x.reduce((a, b) => Math.max(a, b)),
    leastReplicated: level.sizes.reduce((a, b) => Math.min(a, b), n),
    mostReplicated: level.sizes.reduce((a, b) => Math.max(a, b), 0),
    balanced: isBalanced(numbered(plots.map((plot) => plot.environment)), block, level),
    terms: termsInsideBlocks(x, block),
    pureErrorDof: n - (block.count + level.count - connectedParts(block, level)),
  };
}

/** Values numbered in order of first appearance. */
interface Numbered {
  readonly index: Int32Array;
  readonly count: number;
  /** How often each number occurs; shape [count]. */
  readonly sizes: readonly number[];
}

function numbered(values: ArrayLike<string | number>): Numbered {
  const known = new Map<string | number, number>();
  const sizes: number[] = [];
  const index = Int32Array.from({ length: values.length }, (_, i) => {
    const at = known.get(values[i]) ?? known.size;
    known.set(values[i], at);
    sizes[at] = (sizes[at] ?? 0) + 1;
    return at;
  });
  return { index, count: known.size, sizes };
}

/** Every block of an environment holds each of that environment's densities equally often. */
function isBalanced(environment: Numbered, block: Numbered, level: Numbered): boolean {
  const levels = Array.from({ length: environment.count }, () => new Set<number>());
  const home = new Int32Array(block.count);
  const cells = new Map<number, number>();
  for (let i = 0; i < block.index.length; i++) {
    levels[environment.index[i]].add(level.index[i]);
    home[block.index[i]] = environment.index[i];
    const cell = block.index[i] * level.count + level.index[i];
    cells.set(cell, (cells.get(cell) ?? 0) + 1);
  }
  const wanted = home.reduce((sum, at) => sum + levels[at].size, 0);
  return cells.size === wanted && new Set(cells.values()).size <= 1;
}

/**
 * Connected parts of the block-by-density table. The additive model of blocks and densities as factors has rank
 * blocks + densities - parts (a graph's incidence matrix), which is what pure error is counted against.
 */
function connectedParts(block: Numbered, level: Numbered): number {
  const parent = Int32Array.from({ length: block.count + level.count }, (_, i) => i);
  const find = (node: number): number => {
    let root = node;
    while (parent[root] !== root) {
      parent[root] = parent[parent[root]];
      root = parent[root];
    }
    return root;
  };
  let parts = parent.length;
  for (let i = 0; i < block.index.length; i++) {
    const a = find(block.index[i]);
    const b = find(block.count + level.index[i]);
    if (a === b) continue;
    parent[a] = b;
    parts -= 1;
  }
  return parts;
}

/** Rank of x, x^2, x^3 after block means are taken out, by Gram-Schmidt on x scaled to [-1, 1]. */
function termsInsideBlocks(x: Float64Array, block: Numbered): 0 | 1 | 2 | 3 {
  const low = x.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY);
  const high = x.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY);
  if (!(high > low)) return 0;
  const z = x.map((value) => (2 * (value - low)) / (high - low) - 1);
  const basis: Float64Array[] = [];
  for (const power of [1, 2, 3] as const) {
    const column = centred(
      z.map((value) => pow(value, power)),
      block,
    );
    const before = dot(column, column);
    for (const other of basis) {
      const share = dot(column, other) / dot(other, other);
      for (let i = 0; i < column.length; i++) column[i] -= share * other[i];
    }
    // Relative to its own size: rounding leaves about 1e-30, a real new direction far more than 1e-8.
    if (!(dot(column, column) > 1e-8 * before) || before < 1e-16) return (power - 1) as 0 | 1 | 2;
    basis.push(column);
  }
  return 3;
}

function centred(values: Float64Array, block: Numbered): Float64Array {
  const sums = new Float64Array(block.count);
  for (let i = 0; i < values.length; i++) sums[block.index[i]] += values[i];
  return values.map((value, i) => value - sums[block.index[i]] / block.sizes[block.index[i]]);
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i] * b[i];
  return sum;
}
