import type { MeanCurve, MixedResponseFit } from "./mixedResponse.ts";
import { ENVIRONMENT, ENVIRONMENT_INDEPENDENT } from "./mixedStructure.ts";

/** x' A y of small arrays. */
export function form(x: readonly number[], a: readonly (readonly number[])[], y: readonly number[]): number {
  let sum = 0;
  for (let i = 0; i < x.length; i++) for (let j = 0; j < y.length; j++) sum += x[i] * a[i][j] * y[j];
  return sum;
}

/**
 * Satterthwaite degrees of freedom of the variance c'V c + c'G c (the second part only with `newEnvironment`), from the
 * covariance of the variance parameters; null when that is not known.
 */
export function combinationDof(
  fit: MixedResponseFit,
  curve: MeanCurve,
  c: readonly number[],
  newEnvironment = false,
): number | null {
  if (fit.componentCovariance === null || curve.vcovSlopes.length === 0) return null;
  const gradient = fit.componentNames.map((_, k) => form(c, curve.vcovSlopes[k], c));
  let variance = form(c, curve.vcov, c);
  if (newEnvironment) {
    variance += form(c, fit.environmentCovariance, c);
    environmentElements(fit).forEach((pair, k) => {
      if (pair !== null) gradient[k] += c[pair[0]] * c[pair[1]] * (pair[0] === pair[1] ? 1 : 2);
    });
  }
  const spread = form(gradient, fit.componentCovariance, gradient);
  return spread > 0 && variance > 0 ? (2 * variance * variance) / spread : null;
}

/** For each variance parameter: the element of the environment covariance it is, or null. */
export function environmentElements(fit: MixedResponseFit): (readonly [number, number] | null)[] {
  const own = (name: string): string[] => [
    ...new Set(fit.varianceComponents.filter(({ term }) => term === name).map(({ column }) => column)),
  ];
  const power = (part: string): number => ["intercept", "slope", "curvature"].indexOf(part);
  return fit.componentNames.map(({ term, column, withColumn }) => {
    if (term !== ENVIRONMENT && term !== ENVIRONMENT_INDEPENDENT) return null;
    const parts = own(term);
    return [power(parts[column]), power(parts[withColumn])] as const;
  });
}
