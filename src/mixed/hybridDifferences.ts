import { tTwoSided } from "../numeric/distributions.ts";
import type { CompareOptions, HybridComparison, HybridDifference } from "./compareHybrids.ts";
import { type CurveEstimate, curveOptimum, flexGradient } from "./curveAnswers.ts";
import { combinationDof } from "./curveInference.ts";
import { familywiseP } from "./familywise.ts";
import { drawInterval, stacked } from "./hybridDraws.ts";
import { basisOf, toZ } from "./mixedBasis.ts";
import type { MixedResponseFit } from "./mixedResponse.ts";
import type { SmallSample } from "./smallSample.ts";
import type { MixedSolution } from "./solveMixedResponse.ts";

/** Pairs of hybrids in yield at the optimum, optimum and flex score: all, or those with one of them. */
export function differences(
  fit: MixedResponseFit,
  solution: MixedSolution,
  small: SmallSample,
  options: CompareOptions,
  level: number,
  ratio: number,
  draws: readonly Float64Array[],
  only: number | null,
): Pick<HybridComparison, "yieldDifferences" | "optimumDifferences" | "flexDifferences"> {
  const { vcov, width } = stacked(fit, solution, small);
  const p = solution.model.data.p;
  const k = fit.curves.length;
  const basis = basisOf(fit);
  const { scale } = fit.scaling;
  const estimates: CurveEstimate[] = fit.curves.map((curve) => ({
    coefficients: curve.coefficients,
    vcov: curve.vcov,
    dof: (c) => combinationDof(fit, curve, c),
  }));
  const tops = estimates.map((estimate) => curveOptimum(fit, estimate, ratio, level));
  const compare = (
    x: number,
    y: number,
    value: (number | null)[],
    gradient: (number[] | null)[],
  ): Unadjusted | null => {
    const va = value[x];
    const vb = value[y];
    if (va === null || vb === null) return null;
    const ga = gradient[x];
    const gb = gradient[y];
    const base = { a: fit.curves[x].hybrid as string, b: fit.curves[y].hybrid as string, difference: va - vb };
    if (ga === null || gb === null)
      return { ...base, standardError: null, interval: null, p: null, adjustedP: null, dof: 0 };
    const row = new Float64Array(p);
    ga.forEach((v, c) => {
      row[x * width + c] += v;
    });
    gb.forEach((v, c) => {
      row[y * width + c] -= v;
    });
    let variance = 0;
    for (let i = 0; i < p; i++) for (let j = 0; j < p; j++) variance += row[i] * vcov[i * p + j] * row[j];
    const standardError = Math.sqrt(Math.max(0, variance));
    const dof = Math.max(1, small.df(row) ?? fit.environments.length - 1);
    const t = standardError > 0 ? Math.abs(base.difference) / standardError : 0;
    return {
      ...base,
      standardError,
      interval: null,
      p: tTwoSided(t, dof),
      adjustedP: null,
      dof,
    };
  };
  const yields = tops.map(({ yield: y }) => y);
  const yieldGradients = tops.map(({ density }, h) =>
    basis.gradient(toZ(fit.scaling, density), estimates[h].coefficients),
  );
  const densities = tops.map(({ density }) => density);
  const densityGradients = tops.map(({ kind }, h) => {
    const b = estimates[h].coefficients;
    if (kind !== "interior" || fit.curve !== "quadratic") return null;
    // z* = (r - b1) / (2 b2)
    return [0, -scale / (2 * b[2]), (-scale * (ratio * scale - b[1])) / (2 * b[2] * b[2])];
  });
  const { between } = options;
  const flex = estimates.map((estimate) => (between === undefined ? null : flexGradient(fit, estimate, between)));
  const yieldDifferences: Unadjusted[] = [];
  const optimumDifferences: Unadjusted[] = [];
  const flexDifferences: Unadjusted[] = [];
  for (let x = 0; x < k; x++) {
    for (let y = x + 1; y < k; y++) {
      if (only !== null && x !== only && y !== only) continue;
      const a = compare(x, y, yields, yieldGradients);
      if (a !== null) yieldDifferences.push(a);
      const b = compare(x, y, densities, densityGradients);
      // The delta method is poor for a ratio: the interval comes from the draws.
      if (b !== null)
        optimumDifferences.push({ ...b, interval: drawInterval(draws[x], draws[y], level, fit.densityRange) });
      const c = compare(
        x,
        y,
        flex.map((one) => one?.score ?? null),
        flex.map((one) => one?.gradient ?? null),
      );
      if (c !== null) flexDifferences.push(c);
    }
  }
  return {
    yieldDifferences: adjust(yieldDifferences, k),
    optimumDifferences: adjust(optimumDifferences, k),
    flexDifferences: adjust(flexDifferences, k),
  };
}

type Unadjusted = HybridDifference & { readonly dof: number };

/** Adds the p-values among all pairs. */
function adjust(pairs: readonly Unadjusted[], k: number): HybridDifference[] {
  const tested = pairs.filter(({ p }) => p !== null);
  const adjusted = familywiseP(
    tested.map(({ difference, standardError, dof }) => ({
      t: Math.abs(difference) / Math.max(standardError ?? 0, 1e-300),
      dof,
    })),
    k,
  );
  return pairs.map(({ dof: _, ...pair }) => {
    const at = tested.findIndex(({ a, b }) => a === pair.a && b === pair.b);
    return at < 0 ? pair : { ...pair, adjustedP: adjusted[at] };
  });
}
