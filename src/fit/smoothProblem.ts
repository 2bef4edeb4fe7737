import { check } from "../core/errors.ts";

/** Plots of a smooth fit with numbered blocks. */
export interface SmoothProblem {
  readonly x: Float64Array;
  readonly y: Float64Array;
  readonly block: Int32Array;
  readonly blocks: number;
  readonly weight: Float64Array | null;
  /** Columns of the sum-to-zero block contrasts, shape [B - 1][n]. */
  readonly contrasts: readonly Float64Array[];
}

/** Numbers and checks the blocks. */
export function smoothProblem(
  x: Float64Array,
  y: Float64Array,
  block: Int32Array | null,
  blockCount: number,
  weight: Float64Array | null,
): SmoothProblem {
  const blocks = block ? blockCount : 1;
  const index = block ?? new Int32Array(x.length);
  const seen = new Set(index);
  check(
    seen.size === blocks && index.every((b) => b >= 0 && b < blocks),
    "invalid-data",
    `blocks must be numbered 0 to ${blocks - 1} with a plot in each`,
  );
  const contrasts = Array.from({ length: blocks - 1 }, (_, b) =>
    Float64Array.from(index, (k) => (k === b ? 1 : k === blocks - 1 ? -1 : 0)),
  );
  return { x, y, block: index, blocks, weight, contrasts };
}

/** One column per block, shape [B][n]. */
export function blockDummies({ block, blocks }: SmoothProblem): Float64Array[] {
  return Array.from({ length: blocks }, (_, b) => Float64Array.from(block, (k) => (k === b ? 1 : 0)));
}

/** All B deviations from the B - 1 that are free. */
export function deviations(free: ArrayLike<number>): number[] {
  const out = Array.from(free);
  return [...out, -out.reduce((sum, d) => sum + d, 0)];
}
