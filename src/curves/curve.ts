import type { Family } from "./family.ts";
import type { CurveOptimum } from "./optimum.ts";

/** One response family: a frozen object of functions. Adding a family is one file and one line in `catalogue.ts`. */
export interface Curve {
  readonly name: Family;
  /** Names of the parameters in the order of `theta`. */
  readonly parameters: readonly string[];
  /** Yield at density x. */
  mean(x: number, theta: ArrayLike<number>): number;
  /** dY/dx; at a kink, the slope to the right. */
  slope(x: number, theta: ArrayLike<number>): number;
  /** d2Y/dx2; at a kink, to the right. */
  curvature(x: number, theta: ArrayLike<number>): number;
  /** dY/dtheta into `out`; shape [p]. */
  gradient(x: number, theta: ArrayLike<number>, out: Float64Array): void;
  /** Smallest x in [low, high] where Y(x) - r x is largest; r is the price ratio, yield units per density unit, >= 0. */
  optimum(theta: ArrayLike<number>, low: number, high: number, r: number): CurveOptimum;
}
