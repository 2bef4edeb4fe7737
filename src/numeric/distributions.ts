import { exp, log, log1p } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { normalCdf, normalDensity, normalQuantile, normalUpper } from "./distributionsNormal.ts";
import { type BetaIntegral, betaFront, betaIntegral, incompleteBeta, type Tails } from "./incompleteBeta.ts";
import { gammaFront, incompleteGamma } from "./incompleteGamma.ts";
import { solveTail } from "./solveTail.ts";
import { devianceTerm, digamma, logBeta, logGamma, stirlingError } from "./specialFunctions.ts";
import { studentizedRangeCdf, studentizedRangeQuantile, studentizedRangeUpper } from "./studentizedRange.ts";

// The one door to distribution functions. `*Cdf` is P(X <= x), `*Upper` is P(X > x) with its own digits in the far tail,
// `*Quantile` the x with P(X <= x) = p. Parameters that are not allowed throw AnalysisError `invalid-option`.
// Oracle for all of them: test/oracle/distributions.json (40-digit arithmetic).
export {
  digamma,
  logBeta,
  logGamma,
  normalCdf,
  normalDensity,
  normalQuantile,
  normalUpper,
  studentizedRangeCdf,
  studentizedRangeQuantile,
  studentizedRangeUpper,
};

/** Above this many degrees of freedom t and F are the normal and the chi-square to double precision. */
const MANY = 1e15;

function checkNumber(name: string, value: number): void {
  check(!Number.isNaN(value), "invalid-option", `${name} must be a number, got ${value}`);
}
function checkProbability(p: number): void {
  check(p > 0 && p < 1, "invalid-option", `p must be between 0 and 1, got ${p}`);
}
function checkDf(name: string, df: number): void {
  check(df > 0, "invalid-option", `${name} must be > 0, got ${df}`);
}
function checkShape(name: string, value: number): void {
  check(value > 0 && value < Infinity, "invalid-option", `${name} must be a finite number > 0, got ${value}`);
}

// ---- Student's t

/** Tails of |T|: lower = P(|T| <= t), upper = P(|T| > t), t >= 0. */
function absoluteT(t: number, df: number, beta: BetaIntegral | null = null): Tails {
  if (t === Infinity) return { lower: 1, upper: 0 };
  if (df > MANY) {
    const upper = 2 * normalUpper(t);
    return { lower: 2 * (normalCdf(t) - 0.5), upper };
  }
  const r = t / Math.sqrt(df);
  if (r > 1e60) {
    // far beyond any power of r that a double holds: first term of the series in 1 / r^2
    return { lower: 1, upper: exp(-df * log(r) - logBeta(df / 2, 0.5) - log(df / 2)) };
  }
  const x = r < 1 ? (r * r) / (1 + r * r) : 1 / (1 + 1 / (r * r));
  return beta === null ? incompleteBeta(0.5, df / 2, x, 1 / (1 + r * r)) : beta.tails(x, 1 / (1 + r * r));
}

/** P(T <= t) of Student's t; `df` > 0 may be fractional or Infinity (the normal distribution). */
export function tCdf(t: number, df: number): number {
  return tUpper(-t, df);
}

/** P(T > t) of Student's t; `df` > 0 may be fractional or Infinity. */
export function tUpper(t: number, df: number): number {
  checkNumber("t", t);
  checkDf("df", df);
  const { lower, upper } = absoluteT(Math.abs(t), df);
  return t >= 0 ? 0.5 * upper : lower < 0.5 ? 0.5 + 0.5 * lower : 1 - 0.5 * upper;
}

/** P(|T| > |t|): the two-sided p-value. */
export function tTwoSided(t: number, df: number): number {
  checkNumber("t", t);
  checkDf("df", df);
  return absoluteT(Math.abs(t), df).upper;
}

/**
 * Quantile of Student's t.
 *
 * @param p - probability, 0 < p < 1
 * @param df - degrees of freedom, > 0, may be Infinity
 * @throws AnalysisError `invalid-option`
 * @example
 * tQuantile(0.975, 10); // => 2.2281388519649385
 */
export function tQuantile(p: number, df: number): number {
  checkProbability(p);
  checkDf("df", df);
  if (df > MANY) return normalQuantile(p);
  if (p === 0.5) return 0;
  const tail = p < 0.5 ? p : 1 - p;
  const z = Math.abs(normalQuantile(tail));
  // Near the centre the mass inside (-t, t) is the small quantity, 1 - 2 tail is then exact.
  const inside = 1 - 2 * tail;
  // Start: Cornish-Fisher (Abramowitz & Stegun 26.7.5); far tails of few df follow the power law.
  let start = log(z + (z * z * z + z) / (4 * df));
  if (df < 5 && tail < 0.05) {
    const power = -(log(tail * df) + logBeta(df / 2, 0.5)) / df + 0.5 * log(df);
    start = Math.max(start, power);
  }
  const beta = betaIntegral(0.5, df / 2);
  const tails = (u: number): Tails => absoluteT(exp(u), df, beta);
  const density = (u: number): number => {
    const r = exp(u) / Math.sqrt(df);
    if (r > 1e60) return df * absoluteT(exp(u), df).upper;
    return 2 * beta.front(r < 1 ? (r * r) / (1 + r * r) : 1 / (1 + 1 / (r * r)), 1 / (1 + r * r));
  };
  // 1 - inside = 2 tail exactly, so the smaller of the two steers the solution
  const t = exp(
    inside < 0.5 ? solveTail(inside, tails, density, start, -745, 709) : solveUpper(2 * tail, tails, density, start),
  );
  return p < 0.5 ? -t : t;
}

/** As `solveTail`, for an upper probability that 1 - p could not carry. */
function solveUpper(upper: number, tails: (u: number) => Tails, density: (u: number) => number, start: number): number {
  const mirrored = (v: number): Tails => {
    const both = tails(-v);
    return { lower: both.upper, upper: both.lower };
  };
  return -solveTail(upper, mirrored, (v) => density(-v), -start, -709, 745);
}

// ---- F

function fTails(f: number, df1: number, df2: number): Tails {
  if (f <= 0) return { lower: 0, upper: 1 };
  if (f === Infinity) return { lower: 1, upper: 0 };
  if (df2 > MANY && df1 > MANY) return f < 1 ? { lower: 0, upper: 1 } : { lower: 1, upper: 0 };
  if (df2 > MANY) return incompleteGamma(df1 / 2, (df1 * f) / 2);
  if (df1 > MANY) {
    const { lower, upper } = incompleteGamma(df2 / 2, df2 / f / 2);
    return { lower: upper, upper: lower };
  }
  const ratio = (df1 / df2) * f;
  return incompleteBeta(df1 / 2, df2 / 2, ratio > 1 ? 1 / (1 + 1 / ratio) : ratio / (1 + ratio), 1 / (1 + ratio));
}

function checkF(df1: number, df2: number): void {
  checkDf("df1", df1);
  checkDf("df2", df2);
}

/** P(F <= f); degrees of freedom > 0, fractional or Infinity. */
export function fCdf(f: number, df1: number, df2: number): number {
  checkNumber("f", f);
  checkF(df1, df2);
  return fTails(f, df1, df2).lower;
}

/** P(F > f): the p-value of an F test. */
export function fUpper(f: number, df1: number, df2: number): number {
  checkNumber("f", f);
  checkF(df1, df2);
  return fTails(f, df1, df2).upper;
}

/**
 * Quantile of the F distribution.
 *
 * @example
 * fQuantile(0.95, 1, 20); // => 4.351243503329288
 */
export function fQuantile(p: number, df1: number, df2: number): number {
  checkProbability(p);
  checkF(df1, df2);
  if (df2 > MANY && df1 > MANY) return 1;
  if (df2 > MANY) return chiSquareQuantile(p, df1) / df1;
  if (df1 > MANY) {
    // F(Inf, df2) = df2 / chi-square(df2): the tails change places
    const u = solveTail(
      p,
      (v) => fTails(exp(v), df1, df2),
      (v) => gammaFront(df2 / 2, (df2 * exp(-v)) / 2),
      0,
      -745,
      709,
    );
    return exp(u);
  }
  const density = (u: number): number => {
    const ratio = (df1 / df2) * exp(u);
    return betaFront(df1 / 2, df2 / 2, ratio > 1 ? 1 / (1 + 1 / ratio) : ratio / (1 + ratio), 1 / (1 + ratio));
  };
  return exp(solveTail(p, (u) => fTails(exp(u), df1, df2), density, logF(p, df1, df2), -745, 709));
}

/** Start for the logarithm of an F quantile. Source: Abramowitz & Stegun 26.6.16, with 26.5.22. */
function logF(p: number, df1: number, df2: number): number {
  if (!(df1 > 1.1 && df2 > 1.1)) return 0;
  const z = normalQuantile(p);
  const [a, b] = [1 / (df1 - 1), 1 / (df2 - 1)];
  const h = 2 / (a + b);
  const lambda = (z * z - 3) / 6;
  return h + lambda > 0 ? 2 * ((z * Math.sqrt(h + lambda)) / h - (a - b) * (lambda + 5 / 6 - 2 / (3 * h))) : 0;
}

// ---- gamma and chi-square

function gammaTails(x: number, shape: number): Tails {
  return x === Infinity ? { lower: 1, upper: 0 } : incompleteGamma(shape, x);
}

function checkGamma(shape: number, rate: number): void {
  checkShape("shape", shape);
  checkShape("rate", rate);
}

/** P(X <= x) of the gamma distribution with mean shape / rate. */
export function gammaCdf(x: number, shape: number, rate = 1): number {
  checkNumber("x", x);
  checkGamma(shape, rate);
  return gammaTails(x * rate, shape).lower;
}

/** P(X > x) of the gamma distribution with mean shape / rate. */
export function gammaUpper(x: number, shape: number, rate = 1): number {
  checkNumber("x", x);
  checkGamma(shape, rate);
  return gammaTails(x * rate, shape).upper;
}

/** Quantile of the gamma distribution with mean shape / rate. */
export function gammaQuantile(p: number, shape: number, rate = 1): number {
  checkProbability(p);
  checkGamma(shape, rate);
  // Start: Wilson & Hilferty (1931), PNAS 17, 684-688; below the mode of ln x the distribution follows x^shape / Gamma(shape + 1)
  const root = 1 - 1 / (9 * shape) + normalQuantile(p) / (3 * Math.sqrt(shape));
  const start = root > 0.3 ? log(shape) + 3 * log(root) : Math.min(log(shape), (log(p) + logGamma(shape + 1)) / shape);
  const u = solveTail(
    p,
    (v) => incompleteGamma(shape, exp(v)),
    (v) => gammaFront(shape, exp(v)),
    start,
    -745,
    709,
  );
  return exp(u) / rate;
}

/** P(X <= x) of chi-square. */
export function chiSquareCdf(x: number, df: number): number {
  return gammaCdf(x, df / 2, 0.5);
}

/** P(X > x) of chi-square: the p-value of a likelihood-ratio test. */
export function chiSquareUpper(x: number, df: number): number {
  return gammaUpper(x, df / 2, 0.5);
}

/** Quantile of chi-square. */
export function chiSquareQuantile(p: number, df: number): number {
  return gammaQuantile(p, df / 2, 0.5);
}

// ---- beta and binomial

function checkBeta(x: number, a: number, b: number): void {
  checkNumber("x", x);
  checkShape("a", a);
  checkShape("b", b);
}

/** P(X <= x) of the beta distribution with mean a / (a + b). */
export function betaCdf(x: number, a: number, b: number): number {
  checkBeta(x, a, b);
  return incompleteBeta(a, b, x, 1 - x).lower;
}

/** P(X > x) of the beta distribution. */
export function betaUpper(x: number, a: number, b: number): number {
  checkBeta(x, a, b);
  return incompleteBeta(a, b, x, 1 - x).upper;
}

/** Quantile of the beta distribution; solved on the logit scale, so that neither end loses digits. */
export function betaQuantile(p: number, a: number, b: number): number {
  checkProbability(p);
  checkBeta(0, a, b);
  // X / (1 - X) is (a / b) F with 2 a and 2 b degrees of freedom
  const start = log(a / b) + logF(p, 2 * a, 2 * b);
  const x = (u: number): number => (u < 0 ? exp(u) / (1 + exp(u)) : 1 / (1 + exp(-u)));
  const u = solveTail(
    p,
    (v) => incompleteBeta(a, b, x(v), x(-v)),
    (v) => betaFront(a, b, x(v), x(-v)),
    start,
    -745,
    709,
  );
  return x(u);
}

function checkBinomial(n: number, p: number): void {
  check(Number.isInteger(n) && n >= 0, "invalid-option", `n must be a whole number >= 0, got ${n}`);
  check(p >= 0 && p <= 1, "invalid-option", `p must be from 0 to 1, got ${p}`);
}

/** P(X = k) for k events among n, each with probability p. Source: Loader (2000), as for `incompleteBeta`. */
export function binomialPmf(k: number, n: number, p: number): number {
  checkNumber("k", k);
  checkBinomial(n, p);
  if (!Number.isInteger(k) || k < 0 || k > n) return 0;
  if (p === 0) return k === 0 ? 1 : 0;
  if (p === 1) return k === n ? 1 : 0;
  if (k === 0) return exp(n * log1p(-p));
  if (k === n) return exp(n * log(p));
  // Stirling's formula for k! = k Gamma(k)
  const correction = stirlingError(n) - stirlingError(k) - stirlingError(n - k);
  const deviance = devianceTerm(k, n * p) + devianceTerm(n - k, n * (1 - p));
  return Math.sqrt(n / (2 * Math.PI * k * (n - k))) * exp(correction - deviance);
}

/** P(X <= k) for events among n, each with probability p. */
export function binomialCdf(k: number, n: number, p: number): number {
  checkNumber("k", k);
  checkBinomial(n, p);
  const whole = Math.floor(k);
  if (whole < 0) return 0;
  return whole >= n ? 1 : incompleteBeta(whole + 1, n - whole, p, 1 - p).upper;
}

/** P(X > k) for events among n, each with probability p. */
export function binomialUpper(k: number, n: number, p: number): number {
  checkNumber("k", k);
  checkBinomial(n, p);
  const whole = Math.floor(k);
  if (whole < 0) return 1;
  return whole >= n ? 0 : incompleteBeta(whole + 1, n - whole, p, 1 - p).lower;
}

/** Smallest k with P(X <= k) >= q. */
export function binomialQuantile(q: number, n: number, p: number): number {
  checkProbability(q);
  checkBinomial(n, p);
  let lo = -1;
  let hi = n;
  while (hi - lo > 1) {
    const middle = Math.floor((lo + hi) / 2);
    const enough = q <= 0.5 ? binomialCdf(middle, n, p) >= q : binomialUpper(middle, n, p) <= 1 - q;
    if (enough) hi = middle;
    else lo = middle;
  }
  return hi;
}
