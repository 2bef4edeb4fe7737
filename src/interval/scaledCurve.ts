/**
 * A curve on the scaled density u (0 the lowest tested density, 1 the highest) as four numbers: its family by
 * `kernelFamilies` and a, b, c.
 *
 *     0 flat                a
 *     1 linear              a + b u
 *     2 quadratic           a + b u + c u^2
 *     3 linear-plateau      a - b max(c - u, 0)
 *     4 quadratic-plateau   a - b max(c - u, 0)^2, or a + b u when c is Infinity (its limit, the straight line)
 *
 * Bootstrap replicates are kept in this form: every quantity can be read off them afterwards, all from the same draws.
 */
export function valueAt(family: number, a: number, b: number, c: number, u: number): number {
  switch (family) {
    case 0:
      return a;
    case 1:
      return a + b * u;
    case 2:
      return a + u * (b + u * c);
    case 3:
      return u < c ? a - b * (c - u) : a;
    default:
      if (c === Number.POSITIVE_INFINITY) return a + b * u;
      return u < c ? a - b * (c - u) * (c - u) : a;
  }
}

/** Slope at u, per scaled unit; at a kink, to the right. */
export function slopeAt(family: number, _a: number, b: number, c: number, u: number): number {
  switch (family) {
    case 0:
      return 0;
    case 1:
      return b;
    case 2:
      return b + 2 * c * u;
    case 3:
      return u < c ? b : 0;
    default:
      if (c === Number.POSITIVE_INFINITY) return b;
      return u < c ? 2 * b * (c - u) : 0;
  }
}

/**
 * Where the curve less r u is highest: NaN without response, <= 0 at or below the lowest tested density, >= 1 at or above the
 * highest.
 */
export function optimumOf(family: number, _a: number, b: number, c: number, r: number): number {
  switch (family) {
    case 0:
      return r > 0 ? 0 : Number.NaN;
    case 1:
      return b > r ? 1 : 0;
    case 2:
      if (c < 0) return (r - b) / (2 * c);
      return b + c > r ? 1 : 0;
    case 3:
      if (b === 0) return r > 0 ? 0 : Number.NaN;
      return b > r ? c : 0;
    default:
      if (c === Number.POSITIVE_INFINITY) return b > r ? 1 : 0;
      if (b === 0) return r > 0 ? 0 : Number.NaN;
      return c - r / (2 * b);
  }
}
