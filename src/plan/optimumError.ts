import { checkShape } from "../core/checkShape.ts";
import { checkedRatio } from "../core/economics.ts";
import { pow } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { shown } from "../core/shown.ts";
import { curveOf } from "../curves/catalogue.ts";
import { allFamilies } from "../curves/family.ts";
import type { TruthCurve } from "./truthCurves.ts";

/**
 * Standard error of the optimum of Y(x) - r x if `curve` is true: sigma sqrt(c' M^-1 c), the delta method.
 *
 * M is the information on the two shape parameters with block levels projected out and c the gradient of the optimum:
 * (-1 / (2 b2), -x0 / b2) for the quadratic, (r / (2 k^2), 1) for curvature and join of the quadratic-plateau, (0, 1) for slope
 * and join of the linear-plateau. Quadratic in closed form: Var(x0) = sigma^2 (1, 2 x0) M^-1 (1, 2 x0)' / (4 b2^2).
 *
 * @param densities - shape [m], each grown on `replicates` plots, once in every block
 * @returns density units; Infinity when the design cannot tell the optimum (no bend seen, or no optimum): inside this folder only
 *
 * Source: Silvey (1980), Optimal Design, ch. 2 (c-optimality for a function of the parameters).
 */
export function optimumDeviation(
  densities: ArrayLike<number>,
  replicates: number,
  { family, theta }: Pick<TruthCurve, "family" | "theta">,
  sigma: number,
  r = 0,
): number {
  const m = densities.length;
  if (family === "flat" || family === "linear" || m < 3) return Number.POSITIVE_INFINITY;
  const { gradient } = curveOf(family);
  const row = new Float64Array(3);
  // Scaled densities keep the digits of x and x^2; the optimum is scaled back at the end.
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let l = 0; l < m; l++) {
    low = Math.min(low, densities[l]);
    high = Math.max(high, densities[l]);
  }
  const span = high - low;
  const [scaledTheta, scaledRatio] = onUnitScale(family, theta, low, span, r);
  let m1 = 0;
  let m2 = 0;
  let s11 = 0;
  let s12 = 0;
  let s22 = 0;
  for (let l = 0; l < m; l++) {
    gradient((densities[l] - low) / span, scaledTheta, row);
    m1 += row[1];
    m2 += row[2];
    s11 += row[1] * row[1];
    s12 += row[1] * row[2];
    s22 += row[2] * row[2];
  }
  s11 -= (m1 * m1) / m;
  s12 -= (m1 * m2) / m;
  s22 -= (m2 * m2) / m;
  const determinant = s11 * s22 - s12 * s12;
  if (!(determinant > 1e-12 * s11 * s22)) return Number.POSITIVE_INFINITY;
  const [c1, c2] = optimumGradient(family, scaledTheta, scaledRatio);
  const variance = (c1 * c1 * s22 - 2 * c1 * c2 * s12 + c2 * c2 * s11) / determinant;
  return variance >= 0 ? sigma * span * Math.sqrt(variance / replicates) : Number.POSITIVE_INFINITY;
}

function onUnitScale(
  family: TruthCurve["family"],
  theta: readonly number[],
  low: number,
  span: number,
  r: number,
): [readonly number[], number] {
  const ratio = r * span;
  if (family === "quadratic") {
    const [a, b, c] = theta;
    return [[a + b * low + c * low * low, (b + 2 * c * low) * span, c * span * span], ratio];
  }
  const power = family === "linear-plateau" ? 1 : 2;
  return [[theta[0], theta[1] * pow(span, power), (theta[2] - low) / span], ratio];
}

function optimumGradient(family: TruthCurve["family"], theta: readonly number[], r: number): [number, number] {
  if (family === "quadratic") return [-1 / (2 * theta[2]), (theta[1] - r) / (2 * theta[2] * theta[2])];
  return family === "linear-plateau" ? [0, 1] : [r / (2 * theta[1] * theta[1]), 1];
}

/** A response curve taken as the truth: family and coefficients in density units. */
export type PlannedCurve = Pick<TruthCurve, "family" | "theta">;

/**
 * Standard error of the best density that a trial of complete blocks would leave, if `curve` is the true response.
 *
 * sigma sqrt(c' M^-1 c) by the delta method, block levels projected out; for a quadratic with curvature b2 and vertex x0
 * sigma^2 (1, 2 x0) M^-1 (1, 2 x0)' / (4 b2^2) is its square. A wide range, not more plots, makes it small.
 *
 * @param densities - shape [m], each once in every block
 * @param blocks - plots of each density
 * @param sigma - standard deviation between plots of a block, yield units
 * @param priceRatio - yield that pays for one more unit of density; default 0: the density of highest yield
 * @returns density units; null when the design cannot tell the optimum (fewer than three densities, no bend, no optimum)
 * @throws AnalysisError `invalid-option` for a sigma, a number of blocks or a price ratio out of bounds
 * @example
 * const truth = { family: "quadratic", theta: [200 - 0.08 * 34 ** 2, 0.16 * 34, -0.08] } as const;
 * optimumError([24, 28, 32, 36], 4, truth, 5)?.toFixed(2); // => "4.28"
 * optimumError([18, 23, 28, 33, 38, 43], 4, truth, 5)?.toFixed(2); // => "1.03"
 *
 * Source: Silvey (1980), Optimal Design, ch. 2.
 */
export function optimumError(
  densities: readonly number[],
  blocks: number,
  curve: PlannedCurve,
  sigma: number,
  priceRatio = 0,
): number | null {
  checkShape(densities, "densities", "numbers");
  checkShape(blocks, "blocks", "number", "invalid-option");
  checkShape(curve, "curve", { family: "text", theta: "numbers" });
  check(allFamilies.includes(curve.family), "invalid-option", `unknown family "${shown(curve.family)}"`);
  checkShape(sigma, "sigma", "number", "invalid-option");
  checkShape(priceRatio, "priceRatio", "number", "invalid-option");
  check(densities.every(Number.isFinite), "invalid-option", "densities must be finite numbers");
  check(Number.isInteger(blocks) && blocks >= 1, "invalid-option", `blocks must be an integer >= 1, got ${blocks}`);
  check(sigma > 0 && Number.isFinite(sigma), "invalid-option", `sigma must be > 0, got ${sigma}`);
  const error = optimumDeviation(densities, blocks, curve, sigma, checkedRatio(priceRatio));
  return Number.isFinite(error) ? error : null;
}
