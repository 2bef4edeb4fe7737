import type { CurveOptimum } from "./curve.ts";

/** The optimum at x when x lies strictly inside [low, high]; else the end it lies at or beyond. */
export function clampOptimum(x: number, low: number, high: number): CurveOptimum {
  if (x <= low) return { kind: "lower-edge", density: low };
  if (x >= high) return { kind: "upper-edge", density: high };
  return { kind: "interior", density: x };
}
