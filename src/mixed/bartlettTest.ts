import { log } from "../core/elementary.ts";
import { chiSquareUpper } from "../numeric/distributions.ts";
import { analyseStrata, crossLabels, type Factor } from "./analyseStrata.ts";
import { residualOf } from "./effectTests.ts";
import type { VariancePlots } from "./varianceData.ts";

/** Test that variances are equal. */
export interface BartlettTest {
  readonly chiSquare: number;
  readonly df: number;
  readonly p: number;
}

/** Bartlett's test that the residual variances of the environments are equal. */
export function bartlettTest(plots: VariancePlots, treatments: readonly Factor[]): BartlettTest | null {
  const names = [...new Set(plots.environment)];
  const errors = names.flatMap((name) => {
    const rows = plots.environment.flatMap((environment, i) => (environment === name ? [i] : []));
    const pick = (labels: ArrayLike<string | number>): (string | number)[] => rows.map((i) => labels[i]);
    if (rows.length < 3) return [];
    const { strata } = analyseStrata({
      yield: rows.map((i) => plots.yield[i]),
      treatments: [{ name: "treatment", labels: pick(crossLabels(treatments)) }],
      blocks: [{ name: "block", labels: pick(plots.block) }],
      units: [],
    });
    const residual = residualOf(strata, "plots");
    return residual === null || !(residual.ms > 0) ? [] : [residual];
  });
  if (errors.length < 2) return null;
  const total = errors.reduce((sum, { df }) => sum + df, 0);
  const pooled = errors.reduce((sum, { ss }) => sum + ss, 0) / total;
  const k = errors.length;
  const raw = total * log(pooled) - errors.reduce((sum, { df, ms }) => sum + df * log(ms), 0);
  const correction = 1 + (errors.reduce((sum, { df }) => sum + 1 / df, 0) - 1 / total) / (3 * (k - 1));
  const chiSquare = Math.max(0, raw / correction);
  return { chiSquare, df: k - 1, p: chiSquareUpper(chiSquare, k - 1) };
}
