import { curveOf } from "../curves/catalogue.ts";
import type { TruthCurve } from "./truthCurves.ts";

/**
 * Standard error of the optimum of Y(x) - r x if `curve` is true: sigma sqrt(c' M^-1 c), the delta method.
 *
 * M is the information on the two shape parameters with block levels projected out and c the gradient of the optimum:
 * (-1 / (2 b2), -x0 / b2) for the quadratic, (r / (2 k^2), 1) for curvature and join of the quadratic-plateau, (0, 1) for slope
 * and join of the linear-plateau. Quadratic in closed form: Var(x0) = sigma^2 (1, 2 x0) M^-1 (1, 2 x0)' / (4 b2^2).
 *
 * @param densities - shape [m], each grown on `replicates` plots, once in every block
 * @returns density units; Infinity when the design cannot tell the optimum (no bend seen, or no optimum)
 *
 * Source: Silvey (1980), Optimal Design, ch. 2 (c-optimality for a function of the parameters).
 */
export function optimumError(
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
  return [[theta[0], theta[1] * span ** power, (theta[2] - low) / span], ratio];
}

function optimumGradient(family: TruthCurve["family"], theta: readonly number[], r: number): [number, number] {
  if (family === "quadratic") return [-1 / (2 * theta[2]), (theta[1] - r) / (2 * theta[2] * theta[2])];
  return family === "linear-plateau" ? [0, 1] : [r / (2 * theta[1] * theta[1]), 1];
}
