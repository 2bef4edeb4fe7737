import { pow } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { shown } from "../core/shown.ts";
import { curveOf } from "../curves/catalogue.ts";
import { type InnerFamily, innerFamilies } from "../curves/family.ts";

/** One response that may be true, in the units of the plan, with the weight it is given. */
export interface TruthCurve {
  readonly family: InnerFamily;
  /** Parameters in the order of the family: see `innerCoefficients`. */
  readonly theta: readonly number[];
  /** Share of belief, > 0; weights need not add to 1. */
  readonly weight: number;
}

/** What is believed about the response before planting. */
export interface ResponsePrior {
  /** Lowest and highest density at which the agronomic optimum may lie; all between are held equally likely. */
  readonly optimum: readonly [number, number];
  /** Yield lost by planting `distance` below the optimum: one figure, or the lowest and highest that may be true. */
  readonly lossBelow: { readonly distance: number; readonly loss: number | readonly [number, number] };
  /** Yield at the optimum. */
  readonly bestYield: number;
  /** Shapes thought possible, with weights; default the three bent ones alike. */
  readonly families?: Partial<Readonly<Record<BentFamily, number>>>;
}

/** Families with an optimum of their own. */
export type BentFamily = "quadratic" | "linear-plateau" | "quadratic-plateau";
export const bentFamilies: readonly BentFamily[] = ["quadratic", "linear-plateau", "quadratic-plateau"];

const OPTIMA = 7;
const LOSSES = 3;

/**
 * The curves that stand for a prior: 7 optima x 3 losses (mid-points of equal parts, so that the average over them is the
 * mid-point rule) x the families; one optimum or loss where no range is given.
 *
 * A loss L at distance d below the optimum x0 means Y = best - (L / d^2) (x - x0)^2 for the quadratic, the same below the join
 * x0 for the quadratic-plateau, and slope L / d below the join x0 for the linear-plateau.
 *
 * @throws AnalysisError `invalid-option` when a range is turned round or a figure is not positive
 */
export function priorCurves({ optimum, lossBelow, bestYield, families }: ResponsePrior): TruthCurve[] {
  const [low, high] = optimum;
  check(
    low > 0 && high >= low && Number.isFinite(high),
    "invalid-option",
    `prior.optimum needs 0 < lowest <= highest, got ${low} to ${high}`,
  );
  const { distance, loss } = lossBelow;
  const [least, most] = typeof loss === "number" ? [loss, loss] : loss;
  check(distance > 0, "invalid-option", `prior.lossBelow.distance must be > 0, got ${distance}`);
  check(
    least > 0 && most >= least && Number.isFinite(most),
    "invalid-option",
    `prior.lossBelow.loss must be > 0 (lowest first), got ${least} to ${most}`,
  );
  check(bestYield > 0 && Number.isFinite(bestYield), "invalid-option", `prior.bestYield must be > 0, got ${bestYield}`);
  const weights = families ?? { quadratic: 1, "linear-plateau": 1, "quadratic-plateau": 1 };
  const chosen = bentFamilies.filter((family) => (weights[family] ?? 0) > 0);
  check(
    chosen.length > 0 && Object.keys(weights).every((name) => (bentFamilies as readonly string[]).includes(name)),
    "invalid-option",
    `prior.families must give a weight > 0 to some of ${bentFamilies.join(", ")}`,
  );
  const optima = middles(low, high, OPTIMA);
  const losses = middles(least, most, LOSSES);
  return chosen.flatMap((family) =>
    optima.flatMap((at) =>
      losses.map((one) => ({
        family,
        theta: bentCurve(family, at, one / pow(distance, family === "linear-plateau" ? 1 : 2), bestYield),
        weight: (weights[family] as number) / (optima.length * losses.length),
      })),
    ),
  );
}

/** Parameters of the bent curve with its optimum at x0: k is the slope, or the factor of the square. */
export function bentCurve(family: BentFamily, x0: number, k: number, best: number): number[] {
  return family === "quadratic" ? [best - k * x0 * x0, 2 * k * x0, -k] : [best, k, x0];
}

function middles(low: number, high: number, parts: number): number[] {
  if (high === low) return [low];
  return Array.from({ length: parts }, (_, i) => low + ((high - low) * (i + 0.5)) / parts);
}

/** A curve with its density axis moved up by `shift`: the same response, with its optimum that much higher. */
export function shiftCurve({ family, theta }: TruthCurve, shift: number): readonly number[] {
  if (shift === 0 || family === "flat") return theta;
  if (family === "linear") return [theta[0] - theta[1] * shift, theta[1]];
  if (family === "quadratic") {
    const [a, b, c] = theta;
    return [a - b * shift + c * shift * shift, b - 2 * c * shift, c];
  }
  return [theta[0], theta[1], theta[2] + shift];
}

/**
 * The density at which Y(x) - r x is truly largest, wherever that is: null for a curve without optimum (flat, or one that
 * only rises or falls), with the side on which the best density then lies.
 */
export function trueOptimum(
  { family, theta }: TruthCurve,
  r: number,
): { readonly density: number | null; readonly side: "inside" | "below" | "above" | "none" } {
  switch (family) {
    case "flat":
      return { density: null, side: r > 0 ? "below" : "none" };
    case "linear":
      return { density: null, side: theta[1] > r ? "above" : "below" };
    case "quadratic":
      if (theta[2] < 0) return { density: (r - theta[1]) / (2 * theta[2]), side: "inside" };
      return { density: null, side: "none" };
    case "linear-plateau":
      return theta[1] > r ? { density: theta[2], side: "inside" } : { density: null, side: "below" };
    default:
      return { density: theta[2] - r / (2 * theta[1]), side: "inside" };
  }
}

/** Best density of a true curve inside [low, high] at price ratio r, and the value Y - r x there. */
export function bestWithin(
  { family, theta }: TruthCurve,
  low: number,
  high: number,
  r: number,
): { readonly density: number; readonly value: number } {
  const curve = curveOf(family);
  const { density } = curve.optimum(theta, low, high, r);
  return { density, value: curve.mean(density, theta) - r * density };
}

/** Checks curves given by the caller. */
export function checkCurves(curves: readonly TruthCurve[], name: string): void {
  check(curves.length > 0, "invalid-option", `${name} is empty; give at least one curve`);
  for (const { family, theta, weight } of curves) {
    check(
      innerFamilies.includes(family),
      "invalid-option",
      `${name}: family must be one of ${innerFamilies.join(", ")}, got "${family}"`,
    );
    const wanted = curveOf(family).parameters.length;
    check(
      theta.length === wanted && theta.every(Number.isFinite),
      "invalid-option",
      `${name}: ${family} needs ${wanted} finite parameters, got ${shown(theta)}`,
    );
    check(weight > 0 && Number.isFinite(weight), "invalid-option", `${name}: weight must be > 0, got ${weight}`);
    if (family === "linear-plateau" || family === "quadratic-plateau")
      check(theta[1] > 0, "invalid-option", `${name}: the rise of a ${family} must be > 0, got ${theta[1]}`);
  }
}

/**
 * Which curve each simulation takes: systematic sampling by weight, so that every curve comes up in proportion to its weight
 * with no more than one simulation of rounding.
 *
 * @returns index into `curves`, shape [count]; the order is mixed so that any run of simulations holds all curves
 */
export function curveSchedule(curves: readonly TruthCurve[], count: number): Int32Array {
  const total = curves.reduce((sum, curve) => sum + curve.weight, 0);
  // Steps of the golden ratio fill [0, 1) evenly from the first point on (Weyl sequence).
  const step = (Math.sqrt(5) - 1) / 2;
  const ends: number[] = [];
  let sum = 0;
  for (const { weight } of curves) {
    sum += weight / total;
    ends.push(sum);
  }
  return Int32Array.from({ length: count }, (_, i) => {
    const at = (0.5 + i * step) % 1;
    let low = 0;
    let high = ends.length - 1;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (at < ends[middle]) high = middle;
      else low = middle + 1;
    }
    return low;
  });
}
