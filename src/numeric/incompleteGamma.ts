import { exp, expm1, log } from "../core/elementary.ts";
import type { Tails } from "./incompleteBeta.ts";
import { devianceTerm, logGamma, stirlingError } from "./specialFunctions.ts";

const MAX_TERMS = 5_000_000;

/**
 * Regularised incomplete gamma functions P(a, x) (lower) and Q(a, x) (upper).
 *
 * @param a - shape, finite, > 0
 * @param x - finite, >= 0
 *
 * Source: series DLMF 8.11.4 and continued fraction DLMF 8.9.2 (Lentz's method); factor in front after Loader (2000).
 * Oracle: test/oracle/distributions.json.
 */
export function incompleteGamma(a: number, x: number): Tails {
  if (x <= 0) return { lower: 0, upper: 1 };
  if (x < 1 && a < 1) return smallShape(a, x);
  const front = gammaFront(a, x);
  if (x < a + 1) {
    let term = 1;
    let sum = 1;
    for (let n = 1; n < MAX_TERMS; n++) {
      term *= x / (a + n);
      sum += term;
      if (term < sum * 1e-17) break;
    }
    const lower = Math.min(1, (front / a) * sum);
    return { lower, upper: 1 - lower };
  }
  const upper = Math.min(1, front * upperFraction(a, x));
  return { lower: 1 - upper, upper };
}

/** x^a exp(-x) / Gamma(a). */
export function gammaFront(a: number, x: number): number {
  return Math.sqrt(a / (2 * Math.PI)) * exp(-stirlingError(a) - devianceTerm(a, x));
}

/** For a < 1 and x < 1, 1 - P would cancel: expm1 keeps the upper part (DLMF 8.7.1). */
function smallShape(a: number, x: number): Tails {
  let term = 1;
  let sum = 0;
  for (let n = 1; n < 60; n++) {
    term *= -x / n;
    sum += term / (a + n);
    if (Math.abs(term) < 1e-18) break;
  }
  const logHead = a * log(x) - logGamma(1 + a);
  const head = exp(logHead);
  return { lower: head * (1 + a * sum), upper: -expm1(logHead) - head * a * sum };
}

function upperFraction(a: number, x: number): number {
  let b = x + 1 - a;
  let c = 1e300;
  let d = 1 / b;
  let value = d;
  for (let n = 1; n < MAX_TERMS; n++) {
    const numerator = -n * (n - a);
    b += 2;
    d = 1 / (numerator * d + b);
    c = b + numerator / c;
    const change = c * d;
    value *= change;
    if (Math.abs(change - 1) <= 1e-16) break;
  }
  return value;
}
