/** Where a curve is best on a stretch of densities, and whether the stretch or the curve decides. */
export interface CurveOptimum {
  /** `interior`: a true maximum inside the stretch; otherwise the best density is its lower or upper end. */
  readonly kind: "interior" | "lower-edge" | "upper-edge";
  /** Smallest density that maximises, in the unit of the stretch. */
  readonly density: number;
}

/**
 * A response of yield (per area) to plant density: a frozen object of functions of `x` and the parameters `theta`, in the
 * order of `parameters`. Adding a curve to the library is adding one such object.
 */
export interface Curve {
  /** Stable name in kebab-case, such as `parabolic-reciprocal`. */
  readonly name: string;
  /** Names of the parameters, shape [p]. */
  readonly parameters: readonly string[];
  /** Yield at density `x`. */
  readonly mean: (x: number, theta: ArrayLike<number>) => number;
  /** First derivative with respect to `x`; at a kink, the value just left of it. */
  readonly slope: (x: number, theta: ArrayLike<number>) => number;
  /** Second derivative with respect to `x`; at a kink, the value just left of it. */
  readonly curvature: (x: number, theta: ArrayLike<number>) => number;
  /** Derivatives of the mean with respect to the parameters, written to `out`, shape [p]. */
  readonly gradient: (x: number, theta: ArrayLike<number>, out: Float64Array) => void;
  /**
   * The density on [lo, hi] that maximises `mean(x) - priceRatio * x`.
   *
   * @param lo - lower end, > 0 for curves per plant
   * @param hi - upper end, >= lo
   * @param priceRatio - cost of one unit of density over the price of one unit of yield, >= 0; 0 = agronomic optimum
   */
  readonly optimum: (theta: ArrayLike<number>, lo: number, hi: number, priceRatio: number) => CurveOptimum;
}
