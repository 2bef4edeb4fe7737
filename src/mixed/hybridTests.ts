import { chiSquareUpper, fUpper } from "../numeric/distributions.ts";
import { basisShift } from "./densityUnits.ts";
import type { EffectTest } from "./effectTests.ts";
import type { MixedOptions, MixedResponseFit } from "./mixedResponse.ts";
import type { Structure } from "./mixedStructure.ts";
import type { SmallSample } from "./smallSample.ts";
import { initialStructure, type MixedSolution, polynomialBasis, solveMixed } from "./solveMixedResponse.ts";

/** F tests that all hybrids have the same shape (density x hybrid), and the same level at the centre of the range. */
export function fixedTests(fit: MixedResponseFit, solution: MixedSolution, small: SmallSample): EffectTest[] {
  const p = solution.model.data.p;
  const width = fit.curves[0].coefficients.length;
  const against = small.method === "kenward-roger" ? "mixed model, Kenward-Roger" : "mixed model, Satterthwaite";
  const test = (source: string, powers: readonly number[]): EffectTest => {
    const rows: Float64Array[] = [];
    for (let h = 1; h < fit.curves.length; h++) {
      for (const power of powers) {
        const row = new Float64Array(p);
        row[h * width + power] = 1;
        row[power] = -1;
        rows.push(row);
      }
    }
    const l = new Float64Array(rows.length * p);
    rows.forEach((row, i) => {
      l.set(row, i * p);
    });
    const { f, df1, df2 } = small.test(l, rows.length);
    return { source, f, df1, df2, p: df2 === null ? null : fUpper(f, df1, df2), against };
  };
  return [test("density x hybrid", width > 2 ? [1, 2] : [1]), test("hybrid", [0])];
}

/**
 * Likelihood-ratio tests of the random parts. Twice the gain in restricted log-likelihood, against the mixture of
 * chi-squares that variances on the boundary call for: with one correlated part half on q and half on q + 1 degrees of
 * freedom (a little cautious when slope and curvature go together), with two independent variances 1/4, 1/2, 1/4 on 0, 1, 2.
 *
 * Source: Stram & Lee (1994), Biometrics 50, 1171-1177.
 */
export function randomTests(solution: MixedSolution, options: MixedOptions): EffectTest[] {
  const { design, columns } = solution;
  const basis = polynomialBasis(design);
  const full = initialStructure(design, options);
  const shift = basisShift(design, columns, solution.state);
  // One start: the exact derivatives and the certificate against false zeros carry it.
  const fitOf = (s: Structure): number => solveMixed(design, columns, basis, s, [1]).logLikelihood + shift;
  const tests: EffectTest[] = [];
  const top = solution.path[0].logLikelihood;
  const add = (source: string, without: Structure, mixture: readonly (readonly [number, number])[]): void => {
    const statistic = Math.max(0, 2 * (top - fitOf(without)));
    const tail = (df: number): number => (df === 0 ? (statistic > 0 ? 0 : 1) : chiSquareUpper(statistic, df));
    const p = mixture.reduce((sum, [weight, df]) => sum + weight * tail(df), 0);
    const df1 = mixture[mixture.length - 1][1];
    tests.push({ source, f: null, df1, df2: null, p, against: `likelihood ratio ${statistic.toFixed(3)}` });
  };
  if (full.environment.length > 1) {
    const parts = full.environment.length;
    // Dropping slope and curvature takes their variances and covariances away.
    const gone = full.together.length > 0 ? (parts * (parts + 1)) / 2 - 1 : parts - 1;
    const without = { ...full, environment: ["intercept" as const], together: ["intercept" as const] };
    add("density x environment", without, [
      [0.5, gone - 1],
      [0.5, gone],
    ]);
  }
  if (full.hybridByEnvironment.length === 1) {
    add("hybrid x environment", { ...full, hybridByEnvironment: [] }, [
      [0.5, 0],
      [0.5, 1],
    ]);
  } else if (full.hybridByEnvironment.length === 2) {
    add("hybrid x environment", { ...full, hybridByEnvironment: [] }, [
      [0.25, 0],
      [0.5, 1],
      [0.25, 2],
    ]);
  }
  return tests;
}
