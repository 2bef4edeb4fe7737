import { exp } from "../core/elementary.ts";
import { devianceTerm, stirlingError } from "./specialFunctions.ts";

/** Both parts of a distribution, each with its own digits. */
export interface Tails {
  readonly lower: number;
  readonly upper: number;
}

const TINY = 1e-300;
const MAX_TERMS = 5_000_000;

/**
 * Regularised incomplete beta function I_x(a, b) and its complement, for x + y = 1 with both given, so that neither end
 * of the unit interval loses digits.
 *
 * @param a - first shape, finite, > 0
 * @param b - second shape, finite, > 0
 * @param x - in [0, 1]
 * @param y - 1 - x, computed by the caller without cancellation
 *
 * Source: DiDonato & Morris (1992), Algorithm 708, ACM TOMS 18(3), 360-373, equation 9 (the even part of DLMF 8.17.22), by
 * Lentz's method; factor in front after Loader (2000).
 * Oracle: test/oracle/distributions.json.
 */
export function incompleteBeta(a: number, b: number, x: number, y: number): Tails {
  if (x <= 0) return { lower: 0, upper: 1 };
  if (y <= 0) return { lower: 1, upper: 0 };
  return betaIntegral(a, b).tails(x, y);
}

/** x^a y^b / B(a, b). */
export function betaFront(a: number, b: number, x: number, y: number): number {
  return betaIntegral(a, b).front(x, y);
}

/** The incomplete beta function of one pair of shapes, for a search that asks for many x: what depends on the shapes is worked out once. */
export interface BetaIntegral {
  /** As `incompleteBeta`. */
  tails(x: number, y: number): Tails;
  /** As `betaFront`; x and y > 0. */
  front(x: number, y: number): number;
}

export function betaIntegral(a: number, b: number): BetaIntegral {
  const n = a + b;
  const correction = stirlingError(n) - stirlingError(a) - stirlingError(b);
  const scale = Math.sqrt((a / n) * (b / (2 * Math.PI)));
  const front = (x: number, y: number): number =>
    scale * exp(correction - devianceTerm(a, n * x) - devianceTerm(b, n * y));
  return {
    front,
    tails(x, y) {
      if (x <= 0) return { lower: 0, upper: 1 };
      if (y <= 0) return { lower: 1, upper: 0 };
      const inFront = front(x, y);
      if (x <= (a + 1) / (n + 2)) {
        const lower = Math.min(1, inFront / continuedFraction(a, b, x, y));
        // a small `a` lifts the lower part near 1: then the complement is summed on its own
        return { lower, upper: lower < 0.99 ? 1 - lower : Math.min(1, inFront / continuedFraction(b, a, y, x)) };
      }
      const upper = Math.min(1, inFront / continuedFraction(b, a, y, x));
      return { lower: upper < 0.99 ? 1 - upper : Math.min(1, inFront / continuedFraction(a, b, x, y)), upper };
    },
  };
}

/** The fraction by which x^a y^b / B(a, b) is divided; `a y - b x` comes from both ends and keeps its digits. */
function continuedFraction(a: number, b: number, x: number, y: number): number {
  const lambda = a * y - b * x + 1;
  let value = (a / (a + 1)) * lambda;
  if (Math.abs(value) < TINY) value = TINY;
  let c = value;
  let d = 0;
  for (let m = 1; m < MAX_TERMS; m++) {
    const k = a + 2 * m - 1;
    const numerator = ((a + m - 1) / k) * ((a + b + m - 1) / k) * m * (b - m) * x * x;
    const denominator = m + (m * (b - m) * x) / k + ((a + m) / (k + 2)) * (lambda + m * (1 + y));
    d = denominator + numerator * d;
    d = 1 / (Math.abs(d) < TINY ? TINY : d);
    c = denominator + numerator / c;
    if (Math.abs(c) < TINY) c = TINY;
    const change = c * d;
    value *= change;
    if (Math.abs(change - 1) <= 1e-16) break;
  }
  return value;
}
