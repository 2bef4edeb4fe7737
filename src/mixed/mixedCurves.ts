import { square } from "../core/elementary.ts";
import { multiply } from "../numeric/matrix.ts";
import type { ModeBlock } from "./conditionalModes.ts";
import type { FixedColumn, MixedDesign } from "./mixedDesign.ts";
import type {
  ComponentName,
  EnvironmentCurve,
  JoinProfile,
  MeanCurve,
  MixedResponseFit,
  RandomPart,
} from "./mixedResponse.ts";
import { ENVIRONMENT, ENVIRONMENT_INDEPENDENT, HYBRID, type Structure } from "./mixedStructure.ts";
import type { RemlModel } from "./remlModel.ts";
import type { SmallSample } from "./smallSample.ts";
import type { VarianceParameters } from "./varianceParameters.ts";

/** The columns the curve was fitted with, and for plateau curves the join. */
export interface CurveState {
  readonly basis: readonly Float64Array[];
  /** Join in density units; null for polynomials. */
  readonly join: number | null;
  /** d mean / d join on the z scale, the last fixed column; null when the join is not identified or there is none. */
  readonly tangent: Float64Array | null;
  /** How the fit worsens as the join moves; null for polynomials. */
  readonly profile: JoinProfile | null;
}

const POWER: Record<RandomPart, number> = { intercept: 0, slope: 1, curvature: 2 };

/** Number of coefficients of one curve on the z scale, the join included when it has an error. */
function width(state: CurveState): number {
  return state.basis.length + (state.tangent === null ? 0 : 1);
}

/** Rows picking one curve's coefficients out of the fixed effects, [w * p]. */
function selector(columns: readonly FixedColumn[], hybrid: number | null, state: CurveState): Float64Array {
  const w = width(state);
  const p = columns.length + (state.tangent === null ? 0 : 1);
  const out = new Float64Array(w * p);
  columns.forEach((column, j) => {
    if (column.hybrid === null || column.hybrid === hybrid) out[column.power * p + j] = 1;
  });
  if (state.tangent !== null) out[(w - 1) * p + p - 1] = 1;
  return out;
}

/** The expected curves of all hybrids, with what predictions and their degrees of freedom need. */
export function meanCurves(
  design: MixedDesign,
  columns: readonly FixedColumn[],
  model: RemlModel,
  small: SmallSample,
  parameters: VarianceParameters,
  state: CurveState,
): Pick<MixedResponseFit, "curves" | "componentNames" | "componentCovariance"> {
  const p = model.data.p;
  const w = width(state);
  const absolute = absoluteParameters(model, parameters);
  const owners: (number | null)[] =
    design.hybrids === "curves" || design.hybrids === "level" ? design.hybridLabels.map((_, h) => h) : [null];
  const curves: MeanCurve[] = owners.map((hybrid) => {
    const s = selector(columns, hybrid, state);
    const coefficients = Array.from({ length: w }, (_, i) => {
      if (state.tangent !== null && i === w - 1)
        return ((state.join ?? 0) - design.scaling.centre) / design.scaling.scale;
      let sum = 0;
      for (let j = 0; j < p; j++) sum += s[i * p + j] * model.coefficients[j];
      return sum;
    });
    let nobs = 0;
    for (let i = 0; i < design.n; i++) if (hybrid === null || design.hybridIndex[i] === hybrid) nobs++;
    return {
      hybrid: hybrid === null ? null : design.hybridLabels[hybrid],
      coefficients,
      vcov: rows(sandwich(s, small.vcov, w, p), w),
      vcovSlopes: absolute.slopes.map((slope) => rows(sandwich(s, slope, w, p), w)),
      nobs,
    };
  });
  return { curves, componentNames: absolute.names, componentCovariance: absolute.covariance };
}

/** Variance parameters in squared yield units: names, covariance of the estimates, d vcov / d parameter. */
function absoluteParameters(
  model: RemlModel,
  { elements, observed, spread }: VarianceParameters,
): { names: ComponentName[]; covariance: number[][] | null; slopes: Float64Array[] } {
  const { data, optimum, sigma2, columnScale } = model;
  const { p } = data;
  const { c } = optimum.point;
  const k = elements.length;
  const phi = elements.map(({ term, a, b }) => optimum.point.gamma[term][a * data.terms[term].width + b]);
  const unscale = (a: Float64Array): Float64Array =>
    a.map((v, i) => v / (columnScale[Math.floor(i / p)] * columnScale[i % p]));
  // d (sigma^2 C) / d (sigma^2 phi_k) = C M_k C
  const slopes = elements.map((_, e) => multiply(c, multiply(spread[e], c, p, p, p), p, p, p));
  const residual = c.slice();
  for (let e = 0; e < k; e++) for (let i = 0; i < p * p; i++) residual[i] -= phi[e] * slopes[e][i];
  const names = elements.map(({ term, a, b }) => ({ term: data.terms[term].name, column: b, withColumn: a }));
  let covariance: number[][] | null = null;
  if (observed !== null) {
    // [sigma^2 phi, sigma^2] from [phi, sigma^2].
    const jacobian = new Float64Array((k + 1) * (k + 1));
    for (let e = 0; e < k; e++) {
      jacobian[e * (k + 1) + e] = sigma2;
      jacobian[e * (k + 1) + k] = phi[e];
    }
    jacobian[square(k + 1) - 1] = 1;
    covariance = rows(sandwich(jacobian, observed, k + 1, k + 1), k + 1);
  }
  return {
    names: [...names, { term: "residual", column: 0, withColumn: 0 }],
    covariance,
    slopes: [...slopes, residual].map(unscale),
  };
}

/** Deviations of the environments from the mean curve, and their covariance. */
export function environmentCurves(
  design: MixedDesign,
  columns: readonly FixedColumn[],
  structure: Structure,
  model: RemlModel,
  blocks: readonly ModeBlock[],
  state: CurveState,
): Pick<MixedResponseFit, "environments" | "environmentCovariance"> {
  const p = model.data.p;
  const w = width(state);
  const terms = model.data.terms;
  const covariance = new Float64Array(w * w);
  const owners: (number | null)[] =
    design.hybrids === "curves" || design.hybrids === "level" ? design.hybridLabels.map((_, h) => h) : [null];
  const selectors = owners.map((hybrid) => selector(columns, hybrid, state));
  const result = design.environmentLabels.map((environment, e) => {
    let nobs = 0;
    for (let i = 0; i < design.n; i++) if (design.environmentIndex[i] === e) nobs++;
    return {
      environment,
      modes: new Float64Array(w),
      variance: new Float64Array(w * w),
      withMean: selectors.map(() => new Float64Array(w * w)),
      nobs,
    };
  });
  const partsOf = (name: string): number[] | null => {
    const together = structure.environment.filter((part) => structure.together.includes(part));
    const alone = structure.environment.filter((part) => !structure.together.includes(part));
    if (name === ENVIRONMENT) return (together.length > 0 ? together : alone).map((part) => POWER[part]);
    return name === ENVIRONMENT_INDEPENDENT ? alone.map((part) => POWER[part]) : null;
  };
  terms.forEach((term, t) => {
    const at = partsOf(term.name);
    if (at === null || term.name === HYBRID) return;
    const gamma = model.optimum.point.gamma[t];
    at.forEach((i, a) => {
      at.forEach((j, b) => {
        covariance[i * w + j] = model.sigma2 * gamma[a * term.width + b];
      });
    });
    for (const block of blocks) {
      if (block.term !== t) continue;
      const target = result[design.environmentLabels.indexOf(String(term.levels[block.level]))];
      at.forEach((i, a) => {
        target.modes[i] = block.values[a];
        at.forEach((j, b) => {
          target.variance[i * w + j] = block.variance[a * term.width + b];
        });
        selectors.forEach((s, curve) => {
          for (let r = 0; r < w; r++) {
            let sum = 0;
            for (let q = 0; q < p; q++) sum += s[r * p + q] * block.withFixed[q * term.width + a];
            target.withMean[curve][r * w + i] = sum;
          }
        });
      });
    }
  });
  const environments: EnvironmentCurve[] = result.map(({ environment, modes, variance, withMean, nobs }) => ({
    environment,
    modes: [...modes],
    variance: rows(variance, w),
    withMean: withMean.map((block) => rows(block, w)),
    nobs,
  }));
  return { environments, environmentCovariance: rows(covariance, w) };
}

/** S A S' for S [r * n], A [n * n]. */
export function sandwich(s: Float64Array, a: Float64Array, r: number, n: number): Float64Array {
  const left = multiply(s, a, r, n, n);
  const transposed = new Float64Array(n * r);
  for (let i = 0; i < r; i++) for (let j = 0; j < n; j++) transposed[j * r + i] = s[i * n + j];
  return multiply(left, transposed, r, n, r);
}

function rows(a: Float64Array, n: number): number[][] {
  return Array.from({ length: n }, (_, i) => [...a.subarray(i * n, (i + 1) * n)]);
}
