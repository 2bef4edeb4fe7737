import { asin, exp, log, square } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { normalQuantile, normalUpper } from "../numeric/distributions.ts";

/** Coefficients of Royston's polynomials, ascending powers. */
const LAST = [0, 0.221157, -0.147981, -2.07119, 4.434685, -2.706056];
const NEXT = [0, 0.042981, -0.293762, -1.752461, 5.682633, -3.582633];
const SMALL_GAMMA = [-2.273, 0.459];
const SMALL_MEAN = [0.544, -0.39978, 0.025054, -6.714e-4];
const SMALL_SD = [1.3822, -0.77857, 0.062767, -0.0020322];
const MEAN = [-1.5861, -0.31082, -0.083751, 0.0038915];
const SD = [-0.4803, -0.082676, 0.0030302];

function polynomial(coefficients: readonly number[], x: number): number {
  return coefficients.reduceRight((sum, c) => sum * x + c, 0);
}

/**
 * Shapiro-Wilk W test of normality.
 *
 * W = (sum a_i x_(i))^2 / sum (x_i - mean)^2 with Royston's approximate weights; p from the normal distribution of a transform of
 * 1 - W. Residuals of a fitted curve are not quite independent, so p is a guide.
 *
 * @param values - shape [n], 3 <= n <= 5000
 * @returns null when the values are all (nearly) equal
 * @throws AnalysisError `invalid-data` when n is out of bounds
 *
 * Source: Royston (1995), Applied Statistics 44, 547-551 (algorithm AS R94). Oracle: R 4.2.2 shapiro.test.
 */
export function shapiroWilk(values: ArrayLike<number>): { readonly w: number; readonly p: number } | null {
  const n = values.length;
  check(n >= 3 && n <= 5000, "invalid-data", `the Shapiro-Wilk test takes 3 to 5000 values, got ${n}`);
  const sorted = Float64Array.from(values).sort();
  const mean = sorted.reduce((sum, value) => sum + value, 0) / n;
  const total = sorted.reduce((sum, value) => sum + square(value - mean), 0);
  const span = sorted[n - 1] - sorted[0];
  if (!(span > 1e-12 * Math.max(Math.abs(sorted[0]), Math.abs(sorted[n - 1])))) return null;

  const half = Math.floor(n / 2);
  const a = weights(n, half);
  let numerator = 0;
  for (let i = 0; i < half; i++) numerator += a[i] * (sorted[n - 1 - i] - sorted[i]);
  const w = Math.min((numerator * numerator) / total, 1);
  return { w, p: pValue(w, n) };
}

function weights(n: number, half: number): Float64Array {
  if (n === 3) return Float64Array.of(Math.SQRT1_2);
  const scores = Float64Array.from({ length: half }, (_, i) => normalQuantile((i + 1 - 0.375) / (n + 0.25)));
  const squares = 2 * scores.reduce((sum, m) => sum + m * m, 0);
  const root = 1 / Math.sqrt(n);
  const last = polynomial(LAST, root) - scores[0] / Math.sqrt(squares);
  const a = new Float64Array(half);
  let fixed = 1;
  let factor: number;
  if (n > 5) {
    const next = polynomial(NEXT, root) - scores[1] / Math.sqrt(squares);
    factor = Math.sqrt(
      (squares - 2 * (scores[0] * scores[0]) - 2 * (scores[1] * scores[1])) /
        (1 - 2 * (last * last) - 2 * (next * next)),
    );
    a[1] = next;
    fixed = 2;
  } else {
    factor = Math.sqrt((squares - 2 * (scores[0] * scores[0])) / (1 - 2 * (last * last)));
  }
  a[0] = last;
  for (let i = fixed; i < half; i++) a[i] = -scores[i] / factor;
  return a;
}

function pValue(w: number, n: number): number {
  // Exact for three values: the smallest possible W is 3/4.
  if (n === 3) return Math.max((6 / Math.PI) * (asin(Math.sqrt(w)) - asin(Math.sqrt(0.75))), 0);
  const y = log(1 - w);
  const x = log(n);
  if (w === 1) return 1;
  if (n <= 11) {
    const gamma = polynomial(SMALL_GAMMA, n);
    if (y >= gamma) return 1e-99;
    return normalUpper((-log(gamma - y) - polynomial(SMALL_MEAN, n)) / exp(polynomial(SMALL_SD, n)));
  }
  return normalUpper((y - polynomial(MEAN, x)) / exp(polynomial(SD, x)));
}
