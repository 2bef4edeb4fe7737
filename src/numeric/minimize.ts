import { check } from "../core/errors.ts";

/** Where a search along a line ended. */
export interface LineSearchResult {
  readonly x: number;
  readonly value: number;
  readonly status: "converged" | "iteration-limit";
  readonly iterations: number;
}

const EPSILON = Number.EPSILON;
const GOLDEN = (3 - Math.sqrt(5)) / 2;

/**
 * Zero of a continuous function between two points where its signs differ, by Brent's method.
 *
 * @param f - the function
 * @param lo - one end
 * @param hi - the other end; f(lo) and f(hi) must not have the same sign
 * @param tolerance - absolute accuracy of x, on top of rounding; default 0 (as far as doubles go)
 * @returns x, f(x), and `iteration-limit` when 200 steps were not enough
 * @throws AnalysisError `invalid-option` when the ends have the same sign or f is not a number there
 * @example
 * brentRoot((x) => x * x - 2, 0, 2).x; // => 1.4142135623730951
 *
 * Source: Brent (1973), Algorithms for Minimization without Derivatives, chapter 4.
 */
export function brentRoot(f: (x: number) => number, lo: number, hi: number, tolerance = 0): LineSearchResult {
  let a = lo;
  let b = hi;
  let fa = f(a);
  let fb = f(b);
  check(
    fa * fb <= 0 || Math.sign(fa) * Math.sign(fb) < 0,
    "invalid-option",
    `f must change sign, got f(${lo}) = ${fa} and f(${hi}) = ${fb}`,
  );
  let c = a;
  let fc = fa;
  let step = b - a;
  let previous = step;
  for (let i = 0; i < 200; i++) {
    if (Math.abs(fc) < Math.abs(fb)) {
      [a, b, c] = [b, c, b];
      [fa, fb, fc] = [fb, fc, fb];
    }
    const tol = 2 * EPSILON * Math.abs(b) + tolerance / 2;
    const half = (c - b) / 2;
    if (Math.abs(half) <= tol || fb === 0) return { x: b, value: fb, status: "converged", iterations: i };
    if (Math.abs(previous) < tol || Math.abs(fa) <= Math.abs(fb)) {
      step = half;
      previous = half;
    } else {
      const s = fb / fa;
      let p: number;
      let q: number;
      if (a === c) {
        p = 2 * half * s;
        q = 1 - s;
      } else {
        const r = fb / fc;
        q = fa / fc;
        p = s * (2 * half * q * (q - r) - (b - a) * (r - 1));
        q = (q - 1) * (r - 1) * (s - 1);
      }
      if (p > 0) q = -q;
      else p = -p;
      if (2 * p < Math.min(3 * half * q - Math.abs(tol * q), Math.abs(previous * q))) {
        previous = step;
        step = p / q;
      } else {
        step = half;
        previous = half;
      }
    }
    a = b;
    fa = fb;
    b += Math.abs(step) > tol ? step : Math.sign(half) * tol;
    fb = f(b);
    if (fb > 0 === fc > 0) {
      c = a;
      fc = fa;
      step = b - a;
      previous = step;
    }
  }
  return { x: b, value: fb, status: "iteration-limit", iterations: 200 };
}

/**
 * Minimum of a function with one valley between two points, by Brent's method (parabolas, golden section when they fail).
 *
 * A minimum is flat: x is good to about half the digits of a double, whatever the tolerance.
 *
 * @param f - the function
 * @param lo - lower end
 * @param hi - upper end, > lo
 * @param tolerance - relative accuracy of x; default 1.5e-8
 * @throws AnalysisError `invalid-option` when lo is not below hi
 * @example
 * brentMinimum((x) => (x - 1) ** 2, 0, 3).x; // => 1
 *
 * Source: Brent (1973), chapter 5.
 */
export function brentMinimum(f: (x: number) => number, lo: number, hi: number, tolerance = 1.5e-8): LineSearchResult {
  check(lo < hi, "invalid-option", `lo must be below hi, got ${lo} and ${hi}`);
  let a = lo;
  let b = hi;
  let x = a + GOLDEN * (b - a);
  let w = x;
  let v = x;
  let fx = f(x);
  let fw = fx;
  let fv = fx;
  let step = 0;
  let previous = 0;
  for (let i = 0; i < 200; i++) {
    const middle = (a + b) / 2;
    const tol = tolerance * Math.abs(x) + EPSILON * (hi - lo);
    if (Math.abs(x - middle) <= 2 * tol - (b - a) / 2) return { x, value: fx, status: "converged", iterations: i };
    let p = 0;
    let q = 0;
    if (Math.abs(previous) > tol) {
      const r = (x - w) * (fx - fv);
      q = (x - v) * (fx - fw);
      p = (x - v) * q - (x - w) * r;
      q = 2 * (q - r);
      if (q > 0) p = -p;
      else q = -q;
    }
    if (Math.abs(p) < Math.abs(0.5 * q * previous) && p > q * (a - x) && p < q * (b - x)) {
      previous = step;
      step = p / q;
      const next = x + step;
      if (next - a < 2 * tol || b - next < 2 * tol) step = x < middle ? tol : -tol;
    } else {
      previous = x < middle ? b - x : a - x;
      step = GOLDEN * previous;
    }
    const u = x + (Math.abs(step) >= tol ? step : Math.sign(step) * tol);
    const fu = f(u);
    if (fu <= fx) {
      if (u < x) b = x;
      else a = x;
      [v, w, x] = [w, x, u];
      [fv, fw, fx] = [fw, fx, fu];
    } else {
      if (u < x) a = u;
      else b = u;
      if (fu <= fw || w === x) {
        [v, w] = [w, u];
        [fv, fw] = [fw, fu];
      } else if (fu <= fv || v === x || v === w) {
        v = u;
        fv = fu;
      }
    }
  }
  return { x, value: fx, status: "iteration-limit", iterations: 200 };
}
