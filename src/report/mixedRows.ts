import type { MixedOptimumReport } from "../analyze/environmentsResult.ts";
import type { HybridAnalysis, TrialAnalysis } from "../analyze/result.ts";
import type { AdjustedDifference } from "../analyze/togetherResult.ts";
import type { Interval } from "../core/interval.ts";
import type { TidyRow } from "./csvText.ts";

/** Columns of the table over environments. */
export const environmentColumns: readonly string[] = [
  "hybrid",
  "environments",
  "treatment",
  "fields",
  "yield_level",
  "quantity",
  "unit",
  "estimate",
  "lower",
  "upper",
  "lower_open",
  "upper_open",
  "level",
  "kind",
  "note",
];

/** Columns of the table over hybrids in one model. */
export const togetherColumns: readonly string[] = [
  "hybrid",
  "environment",
  "part",
  "quantity",
  "unit",
  "estimate",
  "lower",
  "upper",
  "lower_open",
  "upper_open",
  "level",
  "kind",
  "note",
];

type Cells = Readonly<Record<string, TidyRow[string]>>;

function filled(columns: readonly string[], cells: Cells): TidyRow {
  return Object.fromEntries(columns.map((column) => [column, cells[column] ?? null]));
}

function limits(interval: Interval | null): Cells {
  if (interval === null) return {};
  const { lower, upper, lowerOpen, upperOpen, level } = interval;
  return { lower, upper, lower_open: lowerOpen, upper_open: upperOpen, level };
}

function optimum(quantity: string, report: MixedOptimumReport, unit: string): Cells {
  return { quantity, unit, estimate: report.density, kind: report.kind, ...limits(report.interval) };
}

/** Rows on environments still to come: the average field, a new one, classes of yield level, the yield goal. */
export function environmentRows({ hybrids, trial }: TrialAnalysis): TidyRow[] {
  return hybrids.flatMap((one) => acrossRows(one, trial.densityUnit, trial.yieldUnit));
}

function acrossRows({ hybrid, acrossEnvironments: across }: HybridAnalysis, density: string, grain: string): TidyRow[] {
  if (across === null) return [];
  const { treatment, environments, response, yieldGoal } = across;
  const rows: Cells[] = [{ fields: "average", quantity: "treatment", kind: treatment, note: across.reason }];
  const optima = (
    base: Cells,
    { agronomic, economic }: { agronomic: MixedOptimumReport; economic: MixedOptimumReport | null },
  ): void => {
    rows.push({ ...base, ...optimum("agronomic_density", agronomic, density) });
    rows.push({ ...base, quantity: "agronomic_yield", unit: grain, estimate: agronomic.yield });
    if (economic === null) return;
    rows.push({ ...base, ...optimum("economic_density", economic, density) });
    rows.push({ ...base, quantity: "economic_yield", unit: grain, estimate: economic.yield });
  };
  if (response.kind === "withheld")
    rows.push({ fields: "average", quantity: "response", kind: "withheld", note: response.reason });
  else {
    optima({ fields: "average", note: response.statusWords }, response);
    const { newEnvironment, yieldClasses, varianceComponents } = response;
    if (newEnvironment.kind === "withheld")
      rows.push({ fields: "new", quantity: "yield", kind: "withheld", note: newEnvironment.reason });
    else
      for (const { at, yield: expected, interval } of newEnvironment.yields)
        rows.push({
          fields: "new",
          quantity: `yield_at_${at}_density`,
          unit: grain,
          estimate: expected,
          ...limits(interval),
        });
    if (yieldClasses.kind === "withheld")
      rows.push({ fields: "classes", quantity: "agronomic_density", kind: "withheld", note: yieldClasses.reason });
    else
      for (const one of yieldClasses.classes)
        optima({ fields: one.label, yield_level: one.meanLevel, note: one.environments.join("; ") }, one);
    for (const { term, column, withColumn, value } of varianceComponents)
      rows.push({
        fields: "average",
        quantity: withColumn === null ? "variance" : "covariance",
        estimate: value,
        note: `${term}: ${column}${withColumn === null ? "" : ` with ${withColumn}`}`,
      });
  }
  if (yieldGoal !== null) {
    const base = { fields: "goal", yield_level: yieldGoal.yieldGoal };
    if (yieldGoal.kind === "refused")
      rows.push({ ...base, quantity: "agronomic_density", kind: "refused", note: yieldGoal.reason });
    else optima({ ...base, note: yieldGoal.extrapolated ? "beyond the levels seen" : null }, yieldGoal);
  }
  return rows.map((row) => filled(environmentColumns, { hybrid, environments, treatment, ...row }));
}

/** Rows of all hybrids in one model: comparison, curves drawn in, stability, place in the field. */
export function togetherRows({ together, trial }: TrialAnalysis): TidyRow[] {
  if (together === null) return [];
  const unit = trial.densityUnit;
  const { compared, shrunken, stability, fieldTrends } = together;
  const rows: Cells[] = [];
  const gone = (part: string, reason: string): void => {
    rows.push({ part, kind: "withheld", note: reason });
  };
  if (compared.kind === "withheld") gone("compared", compared.reason);
  else
    for (const { hybrid, optimum: best, flex, probabilityBest, meanRank } of compared.hybrids) {
      const base = { part: "compared", hybrid };
      rows.push({ ...base, ...optimum(`${compared.target}_density`, best, unit) });
      rows.push({
        ...base,
        quantity: "flex_score",
        unit: "score",
        estimate: flex?.score ?? null,
        ...limits(flex?.interval ?? null),
      });
      rows.push({ ...base, quantity: "probability_best", estimate: probabilityBest, note: `by ${compared.rankedBy}` });
      rows.push({ ...base, quantity: "mean_rank", estimate: meanRank });
    }
  if (shrunken.kind === "withheld") gone("drawn_in", shrunken.reason);
  else
    for (const { hybrid, raw, shrunken: drawn, moved, shrinkage } of shrunken.hybrids) {
      const base = { part: "drawn_in", hybrid };
      if (raw !== null) rows.push({ ...base, ...optimum(`own_${shrunken.target}_density`, raw, unit) });
      rows.push({ ...base, ...optimum(`drawn_${shrunken.target}_density`, drawn, unit) });
      rows.push({ ...base, quantity: "moved", unit, estimate: moved });
      for (const [name, share] of Object.entries(shrinkage))
        rows.push({ ...base, quantity: `shrinkage_${name}`, unit: "share", estimate: share });
    }
  if (stability.kind === "withheld") gone("stability", stability.reason);
  else
    for (const { hybrid, slope, lower, upper } of stability.slopes)
      rows.push({ part: "stability", hybrid, quantity: "slope_on_environments", estimate: slope, lower, upper });
  if (fieldTrends.kind === "withheld") gone("field_trend", fieldTrends.reason);
  else
    for (const { hybrid, environment, outcome, along, target } of fieldTrends.trends) {
      const base = { part: "field_trend", hybrid, environment, note: `along ${along}` };
      if (outcome.kind === "withheld") rows.push({ ...base, kind: "withheld", note: outcome.reason });
      else {
        rows.push({ ...base, ...optimum(`plain_${target}_density`, outcome.naive, unit) });
        rows.push({ ...base, ...optimum(`adjusted_${target}_density`, outcome.adjusted, unit) });
      }
    }
  return rows.map((row) => filled(togetherColumns, row));
}

/** A row for each test of an effect. */
export function testRows({ together }: TrialAnalysis): TidyRow[] {
  if (together === null) return [];
  const { tests, compared } = together;
  const of = (
    method: string,
    list: readonly {
      source: string;
      f: number | null;
      df1: number;
      df2: number | null;
      p: number | null;
      against: string;
    }[],
  ): TidyRow[] =>
    list.map(({ source, f, df1, df2, p, against }) => ({ effect: source, method, f, df1, df2, p, against }));
  return [
    ...(tests.kind === "tested" && tests.method === "analysis-of-variance" ? of(tests.method, tests.tests) : []),
    ...(compared.kind === "compared" ? of("mixed-model", compared.tests) : []),
  ];
}

/** Pairs of hybrids with p-values among all pairs. */
export function adjustedPairRows({ together }: TrialAnalysis): TidyRow[] {
  if (together === null || together.compared.kind === "withheld") return [];
  const { compared } = together;
  const of = (quantity: string, pairs: readonly AdjustedDifference[]): TidyRow[] =>
    pairs.map(({ first, second, difference, interval, p, adjustedP }) => ({
      first,
      second,
      quantity,
      difference,
      lower: interval?.lower ?? null,
      upper: interval?.upper ?? null,
      lower_open: interval?.lowerOpen ?? null,
      upper_open: interval?.upperOpen ?? null,
      level: interval?.level ?? null,
      method: "mixed-model",
      probability: null,
      p,
      adjusted_p: adjustedP,
    }));
  return [
    ...of(`${compared.target}_density`, compared.optimumDifferences),
    ...of("flex_score", compared.flexDifferences),
    ...of("yield_at_own_optimum", compared.yieldDifferences),
  ];
}
