import { fUpper } from "../numeric/distributions.ts";
import { typeTwo } from "./adjustedMeans.ts";
import type { Factor, Stratum, VarianceRow } from "./analyseStrata.ts";
import type { VariancePlots } from "./varianceData.ts";

/** Test of one effect, with what it was tested against. */
export interface EffectTest {
  readonly source: string;
  readonly f: number | null;
  readonly df1: number;
  readonly df2: number | null;
  readonly p: number | null;
  readonly against: string;
}

/** Residual line of a stratum, or the line of a nuisance grouping. */
export function residualOf(strata: readonly Stratum[], name: string): VarianceRow | null {
  const rows = strata.find((stratum) => stratum.name === name)?.rows ?? [];
  return rows.find(({ source }) => source === "residual") ?? rows.find(({ source }) => source === name) ?? null;
}

/** First line of that source in any stratum. */
export function findRow(strata: readonly Stratum[], source: string): VarianceRow | null {
  for (const { rows } of strata) for (const row of rows) if (row.source === source) return row;
  return null;
}

/** The tests to read: each effect against the error its design calls for. */
export function effectTests(
  strata: readonly Stratum[],
  treatments: readonly Factor[],
  several: boolean,
  balanced: boolean,
  plots: VariancePlots,
  block: Factor,
  environment: Factor,
  blocked: boolean,
  notes: string[],
): EffectTest[] {
  const tests: EffectTest[] = [];
  const against = (row: VarianceRow, error: VarianceRow | null, words: string): EffectTest => {
    if (error === null || error.df === 0 || !(error.ms > 0))
      return { source: row.source, f: null, df1: row.df, df2: null, p: null, against: words };
    const f = row.ms / error.ms;
    return { source: row.source, f, df1: row.df, df2: error.df, p: fUpper(f, row.df, error.df), against: words };
  };
  const typed = balanced
    ? null
    : typeTwo(
        plots.yield,
        several ? [environment, ...treatments] : treatments,
        blocked ? [block] : several ? [environment] : [],
        3,
      );
  if (typed !== null) notes.push("plots are missing: each effect is tested given the others, blocks first (type II)");
  const rowOf = (source: string): VarianceRow | null =>
    typed?.find((row) => row.source === source) ?? findRow(strata, source);
  if (several) {
    const row = findRow(strata, "environment");
    const blocks = residualOf(strata, "block in environment");
    if (row !== null) tests.push(against(row, blocks, "block in environment"));
  }
  for (const { name, rows } of strata) {
    for (const line of rows) {
      if (line.source === "residual" || line.source === "environment" || line.source === name) continue;
      const row = rowOf(line.source);
      if (row === null || row.df === 0) continue;
      const interaction =
        several && !line.source.startsWith("environment") ? rowOf(`environment x ${line.source}`) : null;
      if (interaction !== null) tests.push(against(row, interaction, `environment x ${line.source}`));
      else
        tests.push(
          against(row, residualOf(strata, name), name === "plots" ? "residual of plots" : `residual of ${name}`),
        );
    }
  }
  return tests;
}
