import type { Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { type JoinDesign, joinDesign } from "../numeric/joinDesign.ts";

/** Plots of one curve, in parallel arrays of equal length n. */
export interface CurveData {
  /** Plants or seeds per area; shape [n], finite, > 0 for the per-plant families, any unit. */
  readonly density: ArrayLike<number>;
  /** Grain per area; shape [n], finite, any unit. */
  readonly yield: ArrayLike<number>;
  /** Block of each plot (label or number); shape [n]. Blocks shift the curve up or down as a whole. Default: one block. */
  readonly block?: ArrayLike<string | number>;
  /** Relative precision of each plot; shape [n], > 0. Default: 1. */
  readonly weight?: ArrayLike<number>;
}

/** What `CurveData` must look like. */
export const curveDataShape: { readonly [property: string]: Shape } = {
  density: "numbers",
  yield: "numbers",
  block: "labels?",
  weight: "numbers?",
};

/** The same after checking, as typed arrays with numbered blocks. */
export interface PreparedData {
  readonly x: Float64Array;
  readonly y: Float64Array;
  readonly block: Int32Array;
  /** Block labels in order of first appearance; shape [B]. */
  readonly blockLabels: readonly string[];
  readonly weight: Float64Array;
  readonly design: JoinDesign;
}

/**
 * Checks the plots of a curve and numbers their blocks.
 *
 * @throws AnalysisError `length-mismatch` when the arrays differ in length
 * @throws AnalysisError `invalid-data` when they are empty or a value is not finite, or a weight is not positive
 */
export function prepareData(data: CurveData): PreparedData {
  const n = data.density.length;
  check(n > 0, "invalid-data", "density is empty; give one value per plot");
  check(data.yield.length === n, "length-mismatch", `density has ${n} values but yield has ${data.yield.length}`);
  checkFinite(data.density, "density");
  checkFinite(data.yield, "yield");
  let block = new Int32Array(n);
  let blockLabels = ["1"];
  if (data.block !== undefined) {
    check(data.block.length === n, "length-mismatch", `density has ${n} values but block has ${data.block.length}`);
    const seen = new Map<string, number>();
    block = Int32Array.from({ length: n }, (_, i) => {
      const label = String((data.block as ArrayLike<string | number>)[i]);
      if (!seen.has(label)) seen.set(label, seen.size);
      return seen.get(label) as number;
    });
    blockLabels = [...seen.keys()];
  }
  let weight = new Float64Array(n).fill(1);
  if (data.weight !== undefined) {
    check(data.weight.length === n, "length-mismatch", `density has ${n} values but weight has ${data.weight.length}`);
    weight = Float64Array.from(data.weight);
    const bad = weight.findIndex((w) => !(w > 0 && Number.isFinite(w)));
    check(bad < 0, "invalid-data", `weights must be finite and > 0; weight[${bad}] is ${weight[bad]}`);
  }
  const x = Float64Array.from(data.density);
  return {
    x,
    y: Float64Array.from(data.yield),
    block,
    blockLabels,
    weight,
    design: joinDesign(x, block, blockLabels.length, weight),
  };
}

function checkFinite(values: ArrayLike<number>, name: string): void {
  for (let i = 0; i < values.length; i++) {
    const value: unknown = values[i];
    check(
      typeof value === "number" && Number.isFinite(value),
      "invalid-data",
      `${name} must hold finite numbers; ${name}[${i}] is ${String(value)}. Leave missing plots out.`,
    );
  }
}
