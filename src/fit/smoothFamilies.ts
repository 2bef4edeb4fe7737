import { atan, cos, exp, expm1, log, sin, square } from "../core/elementary.ts";
import type { Curve } from "../curves/curve.ts";
import { exponential } from "../curves/exponential.ts";
import { mitscherlich } from "../curves/mitscherlich.ts";
import { parabolicReciprocal } from "../curves/parabolicReciprocal.ts";
import { reciprocal } from "../curves/reciprocal.ts";
import { localMinima, type Profile, type ProfilePoint, steps } from "./smoothProfile.ts";

export type SmoothFamily = "exponential" | "reciprocal" | "parabolic-reciprocal" | "mitscherlich";

/** How the global search of a smooth family goes: all are linear in one scale once the other parameters are known. */
export interface SmoothSearch {
  readonly curve: Curve;
  /** Density is measured from here during the search; keeps exp(-c x) in range. */
  readonly origin: (x: Float64Array) => number;
  /** True when the curve has no free level, so that blocks enter as contrasts only. */
  readonly perPlant: boolean;
  /** True when the starts are minima of the profile themselves, so that the first that polishes well is the answer. */
  readonly refined: boolean;
  /** Starting values, the most promising first. `admits` tells which signs of the scale are wanted. */
  readonly starts: (
    profile: Profile,
    admits: (coefficient: number) => boolean,
    x: Float64Array,
    y: Float64Array,
  ) => number[][];
  /** False where theta is not a curve on [low, high]: a pole, a wrong sign. */
  readonly valid: (theta: ArrayLike<number>, low: number, high: number) => boolean;
}

const MOST_STARTS = 3;

export const smoothSearches: Readonly<Record<SmoothFamily, SmoothSearch>> = {
  // y = A x exp(b x): b alone is searched. From a crop in which only the thinnest stand yields (b = -30 / lowest x) to one
  // in which only the densest does.
  exponential: {
    curve: exponential,
    origin: () => 0,
    perPlant: true,
    refined: true,
    starts({ x, at: profile }, admits) {
      const low = Math.min(...x);
      const high = Math.max(...x);
      const at = (b: number): ProfilePoint => admitted(profile(x.map((v) => (v / high) * exp(b * (v - low)))), admits);
      const fall = log(30 / low);
      const rise = log(1e-4 / high);
      const grid = [
        ...steps(fall, rise, Math.ceil((fall - rise) / 0.05)).map((l) => -exp(l)),
        0,
        ...steps(rise, log(60 / high), 250).map(exp),
      ];
      return localMinima(grid, (b) => at(b).rss)
        .filter(({ t }) => at(t).coefficient > 0)
        .slice(0, MOST_STARTS)
        .map(({ t }) => [log(at(t).coefficient / high) - t * low, t]);
    },
    valid: () => true,
  },

  // y = x / (s (cos f + sin f u)), u = x / highest x: the angle f covers every a and b with a positive denominator.
  reciprocal: {
    curve: reciprocal,
    origin: () => 0,
    perPlant: true,
    refined: true,
    starts({ x, at: profile }, admits) {
      const high = Math.max(...x);
      const u = x.map((v) => v / high);
      const thinnest = Math.min(...u);
      const at = (f: number): ProfilePoint => admitted(profile(u.map((v) => v / (cos(f) + sin(f) * v))), admits);
      const from = -Math.PI / 4;
      const to = Math.PI / 2 + atan(thinnest);
      // dense towards both poles
      const grid = steps(0, Math.PI, 500)
        .map((v) => from + ((to - from) * (1 - cos(v))) / 2)
        .subarray(1, 500);
      return localMinima(grid, (f) => at(f).rss)
        .filter(({ t }) => at(t).coefficient > 0)
        .slice(0, MOST_STARTS)
        .map(({ t }) => {
          const k = at(t).coefficient; // y = k u / (cos f + sin f u)
          return [(high * cos(t)) / k, sin(t) / k];
        });
    },
    valid: (theta, low, high) => theta[0] + theta[1] * low > 0 && theta[0] + theta[1] * high > 0,
  },

  // Every quadratic that is positive on the tested range is, up to its scale, (1 - t)^2 / g + 2 q t (1 - t) + g t^2 with g > 0
  // and q > -1, t = share of the range: two numbers, searched on a grid.
  "parabolic-reciprocal": {
    curve: parabolicReciprocal,
    origin: () => 0,
    perPlant: true,
    refined: false,
    starts({ x, at: profile }, admits, densities, y) {
      const low = Math.min(...x);
      const span = Math.max(...x) - low;
      const t = x.map((v) => (v - low) / span);
      const at = (logG: number, logQ: number): ProfilePoint => {
        const g = exp(logG);
        const q = exp(logQ) - 1;
        return admitted(
          profile(x.map((v, i) => v / (square(1 - t[i]) / g + 2 * q * t[i] * (1 - t[i]) + g * t[i] * t[i]))),
          admits,
        );
      };
      const theta = (logG: number, logQ: number): number[] => {
        const s = 1 / at(logG, logQ).coefficient;
        const [d0, d1, d2] = [s * exp(-logG), s * (exp(logQ) - 1), s * exp(logG)];
        const [e1, e2] = [(2 * (d1 - d0)) / span, (d0 - 2 * d1 + d2) / (span * span)]; // powers of x - low
        return [d0 - e1 * low + e2 * low * low, e1 - 2 * e2 * low, e2];
      };
      const found: { readonly rss: number; readonly theta: number[] }[] = [];
      for (const { i, j, rss, points } of gridMinima(steps(-6, 6, 48), steps(-8, 8, 48), (a, b) => at(a, b).rss)) {
        if (at(points[0][i], points[1][j]).coefficient > 0)
          found.push({ rss, theta: theta(points[0][i], points[1][j]) });
      }
      found.sort((a, b) => a.rss - b.rss);
      const starts = found.slice(0, MOST_STARTS + 1).map((f) => f.theta);
      const straight = linearised(densities, y);
      if (straight && positiveBetween(straight, low, low + span)) starts.push(straight);
      return starts;
    },
    valid: positiveBetween,
  },

  // y = A - B exp(-c (x - lowest x)): c alone is searched, from a line (c -> 0) to a step after the lowest density.
  mitscherlich: {
    curve: mitscherlich,
    origin: (x) => Math.min(...x),
    perPlant: false,
    refined: true,
    starts({ x, at: profile }, admits) {
      const levels = Float64Array.from(new Set(x)).sort();
      const span = levels[levels.length - 1] - levels[0];
      const shifted = x.map((v) => v - levels[0]);
      const at = (logC: number): ProfilePoint => {
        const c = exp(logC);
        return admitted(profile(shifted.map((v) => -expm1(-c * v))), admits);
      };
      const from = log(1e-5 / span);
      const to = log(60 / (levels[1] - levels[0]));
      return localMinima(steps(from, to, Math.ceil((to - from) / 0.04)), (l) => at(l).rss)
        .slice(0, MOST_STARTS)
        .map(({ t }) => [0, at(t).coefficient, exp(t)]); // the level follows from the linear fit
    },
    valid: (theta) => theta[2] > 0,
  },
};

/** Whether a + b x + c x^2 is positive on all of [low, high]. */
function positiveBetween(theta: ArrayLike<number>, low: number, high: number): boolean {
  const d = (v: number): number => theta[0] + v * (theta[1] + v * theta[2]);
  const vertex = -theta[1] / (2 * theta[2]);
  return d(low) > 0 && d(high) > 0 && (!(vertex > low && vertex < high) || d(vertex) > 0);
}

/** A scale of the unwanted sign is as good as none. */
function admitted(point: ProfilePoint, admits: (coefficient: number) => boolean): ProfilePoint {
  return point.coefficient === 0 || admits(point.coefficient) ? point : { rss: Infinity, coefficient: 0 };
}

/** Points of a grid that are lower than all their neighbours. */
function gridMinima(
  first: Float64Array,
  second: Float64Array,
  f: (a: number, b: number) => number,
): { i: number; j: number; rss: number; points: readonly [Float64Array, Float64Array] }[] {
  const value = Array.from(first, (a) => second.map((b) => f(a, b)));
  const out: { i: number; j: number; rss: number; points: readonly [Float64Array, Float64Array] }[] = [];
  for (let i = 0; i < first.length; i++) {
    for (let j = 0; j < second.length; j++) {
      const rss = value[i][j];
      let lowest = rss < Infinity;
      for (let di = -1; di <= 1 && lowest; di++) {
        for (let dj = -1; dj <= 1; dj++) {
          if ((di !== 0 || dj !== 0) && (value[i + di]?.[j + dj] ?? Infinity) < rss) lowest = false;
        }
      }
      if (lowest) out.push({ i, j, rss, points: [first, second] });
    }
  }
  return out;
}

/** Least squares of x / y on 1, x, x^2 with weights that make its errors those of y: a start, not a fit. */
function linearised(x: Float64Array, y: Float64Array): number[] | null {
  const size = Math.max(...x);
  const m = [0, 0, 0, 0, 0];
  const v = [0, 0, 0];
  for (let i = 0; i < x.length; i++) {
    if (!(y[i] > 0)) continue;
    const u = x[i] / size;
    const weight = (y[i] * y[i]) / x[i];
    const square = weight * weight;
    let power = 1;
    for (let k = 0; k < 5; k++) {
      m[k] += square * power;
      if (k < 3) v[k] += ((square * x[i]) / y[i]) * power;
      power *= u;
    }
  }
  // Cramer's rule on three equations
  const det = (a: number[], b: number[], c: number[]): number =>
    a[0] * (b[1] * c[2] - b[2] * c[1]) - b[0] * (a[1] * c[2] - a[2] * c[1]) + c[0] * (a[1] * b[2] - a[2] * b[1]);
  const columns = [m.slice(0, 3), m.slice(1, 4), m.slice(2, 5)];
  const whole = det(columns[0], columns[1], columns[2]);
  if (!(Math.abs(whole) > 0)) return null;
  const theta = [
    det(v, columns[1], columns[2]) / whole,
    det(columns[0], v, columns[2]) / whole / size,
    det(columns[0], columns[1], v) / whole / (size * size),
  ];
  return theta.every(Number.isFinite) ? theta : null;
}
