import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { Trial } from "../trial/trial.ts";

/** Plots in parallel arrays of equal length n, for `varianceTable` and `compareHybrids`. */
export interface VarianceData {
  /** Grain per area; null where the plot is missing. */
  readonly yield: ArrayLike<number | null>;
  /** Density treatment of each plot, as a number or label. */
  readonly density: ArrayLike<number>;
  readonly block?: ArrayLike<string | number>;
  readonly hybrid?: ArrayLike<string | number>;
  readonly environment?: ArrayLike<string | number>;
  /** Main plot within its block, when hybrids or densities were randomised on larger plots. */
  readonly mainPlot?: ArrayLike<string | number>;
  readonly row?: ArrayLike<number | null>;
  readonly column?: ArrayLike<number | null>;
  readonly order?: ArrayLike<number | null>;
}

/** What `VarianceData` must look like; numbers are looked at one by one, since some may be null. */
const varianceDataShape: { readonly [property: string]: Shape } = {
  yield: "holes",
  density: "numbers",
  block: "labels?",
  hybrid: "labels?",
  environment: "labels?",
  mainPlot: "labels?",
  row: "holes?",
  column: "holes?",
  order: "holes?",
};

/** The same as plain rows, missing plots left out. */
export interface VariancePlots {
  readonly yield: readonly number[];
  readonly density: readonly number[];
  readonly environment: readonly string[];
  /** "environment / block". */
  readonly block: readonly string[];
  readonly hybrid: readonly string[];
  readonly mainPlot: readonly string[] | null;
  readonly row: readonly (number | null)[] | null;
  readonly column: readonly (number | null)[] | null;
  readonly order: readonly (number | null)[] | null;
  /** Rows that were given without a yield. */
  readonly withoutYield: number;
}

/**
 * Brings a trial, or parallel arrays, to rows. Of a trial, excluded plots are left out, and the density treatment is the
 * seeding rate where it is known (the randomised treatment), else the density used for fitting.
 *
 * @throws AnalysisError `length-mismatch`, `invalid-data`
 */
export function variancePlots(data: VarianceData | Trial): VariancePlots {
  if ("plots" in data) {
    checkShape(data, "data", "standcurve/trial/1");
    const plots = data.plots.filter((plot) => plot.excluded === null && (plot.seedingRate ?? plot.density) !== null);
    const { position } = { position: plots.map((plot) => plot.position) };
    const has = (key: "row" | "column" | "order"): boolean => position.some((at) => at[key] !== null);
    return variancePlots({
      yield: plots.map((plot) => plot.yield),
      density: plots.map((plot) => (plot.seedingRate ?? plot.density) as number),
      block: plots.map((plot) => plot.block),
      hybrid: plots.map((plot) => plot.hybrid),
      environment: plots.map((plot) => plot.environment),
      ...(has("row") ? { row: position.map((at) => at.row) } : {}),
      ...(has("column") ? { column: position.map((at) => at.column) } : {}),
      ...(has("order") ? { order: position.map((at) => at.order) } : {}),
    });
  }
  checkShape(data, "data", varianceDataShape);
  const n = data.yield.length;
  for (const [name, column] of Object.entries(data) as [string, ArrayLike<unknown> | undefined][]) {
    if (column === undefined) continue;
    check(column.length === n, "length-mismatch", `yield has ${n} values but ${name} has ${column.length}`);
  }
  const keep: number[] = [];
  for (let i = 0; i < n; i++) {
    const y = data.yield[i];
    if (y === null) continue;
    check(Number.isFinite(y), "invalid-data", `yield must be finite numbers or null; yield[${i}] is ${y}`);
    check(
      Number.isFinite(data.density[i]),
      "invalid-data",
      `density must be finite numbers; density[${i}] is ${data.density[i]}`,
    );
    keep.push(i);
  }
  check(keep.length >= 2, "invalid-data", `at least 2 plots with a yield are needed, got ${keep.length}`);
  const text = (labels: ArrayLike<string | number> | undefined): string[] =>
    keep.map((i) => (labels === undefined ? "1" : String(labels[i])));
  const numbers = (values: ArrayLike<number | null> | undefined): (number | null)[] | null =>
    values === undefined ? null : keep.map((i) => values[i]);
  const environment = text(data.environment);
  return {
    yield: keep.map((i) => data.yield[i] as number),
    density: keep.map((i) => data.density[i]),
    environment,
    block: text(data.block).map((block, i) => `${environment[i]} / ${block}`),
    hybrid: text(data.hybrid),
    mainPlot: data.mainPlot === undefined ? null : text(data.mainPlot),
    row: numbers(data.row),
    column: numbers(data.column),
    order: numbers(data.order),
    withoutYield: n - keep.length,
  };
}
