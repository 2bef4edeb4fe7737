import { square } from "../core/elementary.ts";
import { dot, multiplyVector, quadraticForm } from "../numeric/matrix.ts";
import { symmetricEigen } from "../numeric/symmetricEigen.ts";
import type { RemlModel } from "./remlModel.ts";
import { rowCovariance, type SmallSample, scaledBeta, scaledRow, scaledRows } from "./smallSample.ts";
import { type VarianceParameters, varianceParameters } from "./varianceParameters.ts";

/**
 * Satterthwaite degrees of freedom: 2 v^2 / (g' A g), v = l'C l the variance of l'beta, g its gradient by the variance
 * parameters, A their covariance from the observed information. Tests of several rows follow Fai and Cornelius.
 *
 * Source: Giesbrecht & Burns (1985), Biometrics 41, 477-486; Fai & Cornelius (1996), J. Stat. Comput. Simul. 54, 363-378.
 */
export function satterthwaite(model: RemlModel, known?: VarianceParameters): SmallSample {
  const parameters = known ?? varianceParameters(model);
  const { p } = model.data;
  const { c, sigma2 } = model.optimum.point;
  const k = parameters.elements.length;

  function dfScaled(l: Float64Array): number | null {
    if (parameters.observed === null) return null;
    const cl = multiplyVector(c, l, p, p);
    const variance = sigma2 * dot(l, cl);
    if (!(variance > 0)) return null;
    const gradient = new Float64Array(k + 1);
    for (let e = 0; e < k; e++) gradient[e] = sigma2 * quadraticForm(cl, parameters.spread[e], cl);
    gradient[k] = variance / sigma2;
    const spread = quadraticForm(gradient, parameters.observed, gradient);
    return spread > 0 ? (2 * variance * variance) / spread : null;
  }

  return {
    method: "satterthwaite",
    vcov: model.vcov,
    df: (l) => dfScaled(scaledRow(model, l)),
    test(l, r) {
      const rows = scaledRows(model, l, r);
      const v = rowCovariance(rows, c, r, p).map((value) => value * sigma2);
      const beta = scaledBeta(model);
      const { values, vectors } = symmetricEigen(v, r);
      let sum = 0;
      let expectation = 0;
      let known = true;
      for (let j = 0; j < r; j++) {
        const combination = new Float64Array(p);
        for (let i = 0; i < r; i++) for (let s = 0; s < p; s++) combination[s] += vectors[i * r + j] * rows[i * p + s];
        sum += square(dot(combination, beta)) / values[j];
        const df = dfScaled(combination);
        if (df === null) known = false;
        else if (df > 2) expectation += df / (df - 2);
      }
      const df2 = !known
        ? null
        : r === 1
          ? dfScaled(rows)
          : expectation > r
            ? (2 * expectation) / (expectation - r)
            : null;
      return { f: sum / r, df1: r, df2 };
    },
  };
}
