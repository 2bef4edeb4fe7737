import { log, log1p } from "../core/elementary.ts";
import { check } from "../core/errors.ts";

const HALF_LOG_2PI = 0.9189385332046728;

/** zeta(k) - 1 for k = 2, 3, ... (recomputed with 30 digits). */
const ZETA_LESS_ONE = [
  0.6449340668482264, 0.2020569031595943, 0.08232323371113819, 0.03692775514336993, 0.01734306198444914,
  0.008349277381922827, 0.00407735619794434, 0.0020083928260822143, 0.0009945751278180853, 0.0004941886041194645,
  0.0002460865533080483, 0.00012271334757848915, 0.00006124813505870483, 0.00003058823630702049, 0.00001528225940865187,
  0.000007637197637899763, 0.00000381729326499984, 0.000001908212716553939, 9.539620338727962e-7, 4.769329867878064e-7,
  2.38450502727733e-7, 1.1921992596531106e-7, 5.960818905125948e-8, 2.980350351465228e-8, 1.490155482836504e-8,
  7.45071178983543e-9, 3.725334024788457e-9, 1.862659723513049e-9,
];
const ONE_LESS_EULER = 0.42278433509846713;

/** ln Gamma(1 + z) for |z| <= 1/2: Abramowitz & Stegun (1964), 6.1.33. */
function logGammaNearOne(z: number): number {
  let sum = 0;
  for (let k = ZETA_LESS_ONE.length + 1; k >= 2; k--) sum = sum * -z + ZETA_LESS_ONE[k - 2] / k;
  return z * ONE_LESS_EULER - log1p(z) + z * z * sum;
}

/**
 * Natural logarithm of the gamma function.
 *
 * @param x - a finite number > 0
 * @throws AnalysisError `invalid-option` when x is not a finite number > 0
 * @example
 * logGamma(5); // => 3.1780538303479458
 *
 * Source: Abramowitz & Stegun (1964), 6.1.33 near 1 and 2, 6.1.40 (Stirling's series) from 10 up.
 */
export function logGamma(x: number): number {
  check(x > 0 && x < Infinity, "invalid-option", `x must be a finite number > 0, got ${x}`);
  if (x < 0.5) return logGammaNearOne(x) - log(x);
  if (x <= 1.5) return logGammaNearOne(x - 1);
  if (x < 10) {
    let product = 1;
    let base = x;
    while (base > 2.5) product *= --base;
    return log(product) + log1p(base - 2) + logGammaNearOne(base - 2);
  }
  return (x - 0.5) * log(x) - x + HALF_LOG_2PI + stirlingError(x);
}

/**
 * What Stirling's formula leaves out: ln Gamma(x) - ((x - 1/2) ln x - x + ln(2 pi) / 2), for x > 0.
 *
 * Source: Abramowitz & Stegun (1964), 6.1.40; by difference below 10.
 */
export function stirlingError(x: number): number {
  if (x < 10) return logGamma(x) - ((x - 0.5) * log(x) - x + HALF_LOG_2PI);
  const s = 1 / (x * x);
  return (
    (1 / 12 -
      s *
        (1 / 360 -
          s *
            (1 / 1260 - s * (1 / 1680 - s * (1 / 1188 - s * (691 / 360360 - s * (1 / 156 - s * (3617 / 122400)))))))) /
    x
  );
}

/**
 * Natural logarithm of the beta function, ln B(a, b); keeps its digits when a or b is large.
 *
 * @throws AnalysisError `invalid-option` unless a and b are finite numbers > 0
 */
export function logBeta(a: number, b: number): number {
  const p = Math.min(a, b);
  const q = Math.max(a, b);
  if (q < 10) return logGamma(p) + logGamma(q) - logGamma(p + q);
  const correction = stirlingError(q) - stirlingError(p + q);
  if (p < 10) return logGamma(p) + correction + p - p * log(p + q) + (q - 0.5) * log1p(-p / (p + q));
  return (
    HALF_LOG_2PI - 0.5 * log(q) + stirlingError(p) + correction + (p - 0.5) * log(p / (p + q)) + q * log1p(-p / (p + q))
  );
}

/**
 * Deviance part of a Poisson term, x ln(x / m) + m - x, without cancellation when x is near m.
 *
 * Source: Loader (2000), Fast and accurate computation of binomial probabilities, section 3.
 */
export function devianceTerm(x: number, m: number): number {
  if (Math.abs(x - m) >= 0.1 * (x + m)) return x * log(x / m) + m - x;
  const v = (x - m) / (x + m);
  let sum = (x - m) * v;
  let power = 2 * x * v;
  for (let j = 1; j < 60; j++) {
    power *= v * v;
    const next = sum + power / (2 * j + 1);
    if (next === sum) break;
    sum = next;
  }
  return sum;
}

/**
 * Digamma function, d ln Gamma(x) / dx.
 *
 * @param x - a finite number > 0
 * @throws AnalysisError `invalid-option` when x is not a finite number > 0
 *
 * Source: Abramowitz & Stegun (1964), 6.3.5 (recurrence) and 6.3.18 (asymptotic series).
 */
export function digamma(x: number): number {
  check(x > 0 && x < Infinity, "invalid-option", `x must be a finite number > 0, got ${x}`);
  let value = 0;
  let z = x;
  for (; z < 10; z++) value -= 1 / z;
  const s = 1 / (z * z);
  const series =
    s * (1 / 12 - s * (1 / 120 - s * (1 / 252 - s * (1 / 240 - s * (1 / 132 - s * (691 / 32760 - s / 12))))));
  return value + log(z) - 0.5 / z - series;
}
