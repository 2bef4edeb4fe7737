import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";

/** Counts before harvest; kernels that will not fill make early counts too high: count from the milk stage (R3) on. */
export interface EarCount {
  /** Ears with grain in the counted piece of row, such as 1/1000 acre. */
  readonly ears: number;
  /** Mean rows of kernels on an ear. */
  readonly rowsPerEar: number;
  /** Mean kernels in a row. */
  readonly kernelsPerRow: number;
  /** Kernels in one yield unit, thousands; 90 is traditional for a bushel of maize, 75 to 80 for big kernels, 110 for small. */
  readonly thousandKernelsPerUnit: number;
  /** How many of the counted pieces make one area; default 1000 (a thousandth of an acre or hectare). */
  readonly piecesPerArea?: number;
}

/** What `EarCount` must look like. */
export const earCountShape: { readonly [property: string]: Shape } = {
  ears: "number",
  rowsPerEar: "number",
  kernelsPerRow: "number",
  thousandKernelsPerUnit: "number",
  piecesPerArea: "number?",
};

/**
 * Yield estimate from ear counts: ears x rows x kernels x pieces / (kernels in a yield unit), in yield units per area.
 *
 * The kernel factor carries most of the error: give the one of the hybrid and season if it is known.
 *
 * @throws AnalysisError `invalid-option` when a count is negative or the factor not > 0
 * @example
 * earCountYield({ ears: 35, rowsPerEar: 16, kernelsPerRow: 36, thousandKernelsPerUnit: 90 }); // => 224
 *
 * Source: yield-component method of the extension services (Mississippi State, corn8; extension.org 35148).
 */
export function earCountYield(input: EarCount): number {
  checkShape(input, "input", earCountShape);
  const { ears, rowsPerEar, kernelsPerRow, thousandKernelsPerUnit, piecesPerArea = 1000 } = input;
  for (const [name, value] of Object.entries({ ears, rowsPerEar, kernelsPerRow })) {
    check(value >= 0 && Number.isFinite(value), "invalid-option", `${name} must be >= 0, got ${value}`);
  }
  check(
    thousandKernelsPerUnit > 0,
    "invalid-option",
    `thousandKernelsPerUnit must be > 0, got ${thousandKernelsPerUnit}`,
  );
  check(piecesPerArea > 0, "invalid-option", `piecesPerArea must be > 0, got ${piecesPerArea}`);
  return (ears * rowsPerEar * kernelsPerRow * piecesPerArea) / (1000 * thousandKernelsPerUnit);
}
