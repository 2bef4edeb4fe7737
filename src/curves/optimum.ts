/**
 * Where Y(x) - r x is largest on a closed range. An optimum on an end of the range is named by that end: the curve's own
 * optimum is there or beyond it.
 */
export interface CurveOptimum {
  readonly kind: "interior" | "lower-edge" | "upper-edge";
  readonly density: number;
}

/** The optimum at x when x lies strictly inside [low, high]; else the end it lies at or beyond. */
export function clampOptimum(x: number, low: number, high: number): CurveOptimum {
  if (x <= low) return { kind: "lower-edge", density: low };
  if (x >= high) return { kind: "upper-edge", density: high };
  return { kind: "interior", density: x };
}
