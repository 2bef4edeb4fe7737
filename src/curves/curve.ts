import type { Family } from "./family.ts";

/**
 * Where Y(x) - r x is largest on a closed range. An optimum on an end of the range is named by that end: the curve's own
 * optimum is there or beyond it.
 */
export interface CurveOptimum {
  readonly kind: "interior" | "lower-edge" | "upper-edge";
  readonly density: number;
}

/** One response family: a frozen object of functions. Adding a family is one file and one line in `catalogue.ts`. */
export interface Curve {
  readonly name: Family;
  /** Names of the parameters in the order of `theta`. */
  readonly parameters: readonly string[];
  /** Yield at density x. */
  readonly mean: (x: number, theta: ArrayLike<number>) => number;
  /** dY/dx; at a kink, the slope to the right. */
  readonly slope: (x: number, theta: ArrayLike<number>) => number;
  /** d2Y/dx2; at a kink, to the right. */
  readonly curvature: (x: number, theta: ArrayLike<number>) => number;
  /** dY/dtheta into `out`; shape [p]. */
  readonly gradient: (x: number, theta: ArrayLike<number>, out: Float64Array) => void;
  /** Smallest x in [low, high] where Y(x) - r x is largest; r is the price ratio, yield units per density unit, >= 0. */
  readonly optimum: (theta: ArrayLike<number>, low: number, high: number, r: number) => CurveOptimum;
}
