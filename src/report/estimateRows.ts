import type { CurveAnalysis, NoAnalysis, OptimumReport, TrialAnalysis } from "../analyze/result.ts";
import type { StandabilityReport } from "../analyze/standability.ts";
import type { Interval } from "../core/interval.ts";
import type { EconomicOptimum, Optimum } from "../derive/optimum.ts";
import type { TidyRow } from "./csvText.ts";
import { significant } from "./numberText.ts";

/** Columns of the table of estimates. */
const columns = [
  "hybrid",
  "environment",
  "quantity",
  "unit",
  "estimate",
  "lower",
  "upper",
  "lower_open",
  "upper_open",
  "level",
  "method",
  "kind",
  "family",
  "note",
] as const;

/** One estimate, long format: `environment` is empty for all environments together. */
export function estimateRows(analysis: TrialAnalysis): TidyRow[] {
  return analysis.hybrids.flatMap(({ pooled, environments }) =>
    [pooled, ...environments].flatMap((one) => curveRows(analysis, one)),
  );
}

type Cells = { readonly [K in (typeof columns)[number]]?: TidyRow[string] };

function curveRows({ trial, settings }: TrialAnalysis, curve: CurveAnalysis | NoAnalysis): TidyRow[] {
  const base = { hybrid: curve.hybrid, environment: curve.environment };
  if (curve.kind === "not-estimable") {
    return [
      row(base, { quantity: "analysis", kind: "not-estimable", note: curve.reason }),
      ...standingRows(curve.standability, trial.densityUnit).map((one) => row(base, one)),
    ];
  }
  const { densityUnit, yieldUnit, moneyArea } = trial;
  const family = curve.chosen;
  const { flex, interval, group } = curve.flex;
  const money = `money/${moneyArea}`;
  const rows: Cells[] = [
    ...optimumRows("agronomic", curve.agronomic, curve, densityUnit),
    { quantity: "agronomic_yield", unit: yieldUnit, estimate: curve.agronomic.optimum.yield, family },
  ];
  if (curve.economic !== null) {
    const { optimum } = curve.economic;
    rows.push(
      ...optimumRows("economic", curve.economic, curve, densityUnit),
      { quantity: "economic_yield", unit: yieldUnit, estimate: optimum.yield, family },
      { quantity: "economic_return", unit: money, estimate: optimum.return, family },
      {
        quantity: "economic_cost_of_missing_below",
        unit: money,
        estimate: optimum.costOfMissing?.below ?? null,
        family,
        note: `${settings.missBy} ${densityUnit} too thin`,
      },
      {
        quantity: "economic_cost_of_missing_above",
        unit: money,
        estimate: optimum.costOfMissing?.above ?? null,
        family,
        note: `${settings.missBy} ${densityUnit} too thick`,
      },
    );
  }
  const range = `between ${flex.between[0]} and ${flex.between[1]} ${densityUnit}`;
  rows.push(
    {
      quantity: "flex_score",
      unit: "score",
      estimate: flex.score,
      ...(interval === null ? {} : limits(interval)),
      kind: group,
      family,
      note: flex.reason ?? range,
    },
    { quantity: "flex_score_left", unit: "score", estimate: flex.left, family, note: "below the curve's optimum" },
    { quantity: "flex_score_right", unit: "score", estimate: flex.right, family, note: "above the curve's optimum" },
    { quantity: "flex_slope", unit: `${yieldUnit} per ${densityUnit}`, estimate: flex.slope, family, note: range },
    ...standingRows(curve.standability, densityUnit),
    { quantity: "mean_yield", unit: yieldUnit, estimate: curve.meanYield },
    { quantity: "residual_cv", unit: "percent", estimate: curve.cvPercent, family },
    { quantity: "establishment", unit: "share", estimate: curve.establishment },
    { quantity: "plots", unit: "count", estimate: curve.plots },
    { quantity: "blocks", unit: "count", estimate: curve.blocks },
  );
  return rows.map((one) => row(base, one));
}

/** The standability limit and the harvestable optima; all the rest is in the table of standability. */
function standingRows(report: StandabilityReport | null, unit: string): Cells[] {
  const head = report?.lodging.find(({ last, kind }) => last && kind === report.standing.basis);
  if (report === null || head === undefined) return [];
  const { limit, axes, intervalAxes } = head;
  const ends = limit.interval === null ? {} : limits(limit.interval);
  const note = `${head.kind}: tolerated share ${limit.tolerated}`;
  const rows: Cells[] = [
    { quantity: "standability_limit", unit, estimate: limit.density, ...ends, kind: limit.kind, note },
    ...(["seedingRate", "stand"] as const).map((axis) => ({
      quantity: `standability_limit_${axis === "stand" ? "stand" : "seeding_rate"}`,
      unit,
      estimate: axes[axis],
      ...ends,
      lower: intervalAxes.lower[axis],
      upper: intervalAxes.upper[axis],
      kind: limit.kind,
      note,
    })),
  ];
  if (report.harvest.kind === "not-estimable") return rows;
  const { harvestable, bootstrap, lossShare } = report.harvest.optimum;
  for (const target of ["agronomic", "economic"] as const) {
    const found = harvestable[target];
    const draws = bootstrap?.harvestable[target]?.interval;
    if (found === null) continue;
    rows.push({
      quantity: `harvestable_${target}_density`,
      unit,
      estimate: found.density,
      ...(draws === undefined ? {} : limits(draws)),
      kind: found.kind,
      note: `${lossShare} of a lodged plant's grain lost`,
    });
  }
  return rows;
}

function optimumRows(
  target: "agronomic" | "economic",
  report: OptimumReport<Optimum | EconomicOptimum>,
  curve: CurveAnalysis,
  unit: string,
): Cells[] {
  const { optimum, axes, interval, intervalAxes, chosenFamilyInterval, bootstrap, averaged } = report;
  const name = `${target}_density`;
  const { kind } = optimum;
  const family = curve.chosen;
  const head = { unit, kind, family };
  const notes = [optimum.note, interval.reason, piecesNote(interval)].filter((text) => text !== null);
  const rows: Cells[] = [
    {
      quantity: name,
      ...head,
      estimate: optimum.density,
      ...limits(interval),
      note: notes.length === 0 ? null : notes.join("; "),
    },
  ];
  for (const [axis, quantity] of [
    ["seedingRate", `${target}_seeding_rate`],
    ["stand", `${target}_stand`],
  ] as const) {
    rows.push({
      quantity,
      ...head,
      estimate: axes[axis],
      ...limits(interval),
      lower: intervalAxes.lower[axis],
      upper: intervalAxes.upper[axis],
      note: axes[axis] === null && optimum.density !== null ? "establishment is not known" : null,
    });
  }
  if (chosenFamilyInterval !== null) {
    rows.push({
      quantity: name,
      ...head,
      estimate: optimum.density,
      ...limits(chosenFamilyInterval),
      note: [`the ${family} curve alone: ignores that it was chosen`, piecesNote(chosenFamilyInterval)]
        .filter((text) => text !== null)
        .join("; "),
    });
  }
  if (bootstrap !== null) {
    const { inside, lowerEdge, upperEdge, missing } = bootstrap.count;
    rows.push({
      quantity: name,
      unit,
      estimate: bootstrap.median,
      ...limits(bootstrap.interval),
      note: `median; ${inside} replicates inside, ${lowerEdge} at the lowest density, ${upperEdge} at the highest, ${missing} without response`,
    });
  }
  if (averaged !== null) {
    rows.push({
      quantity: name,
      unit,
      estimate: averaged.density,
      method: "akaike-average",
      kind: averaged.kind,
      note: "optimum of the curve averaged with Akaike weights",
    });
  }
  if (optimum.nearBest !== null) {
    const { loss, lower, upper, lowerAtEdge, upperAtEdge, pieces } = optimum.nearBest;
    rows.push({
      quantity: `${target}_near_best`,
      unit,
      estimate: optimum.density,
      lower,
      upper,
      lower_open: lowerAtEdge,
      upper_open: upperAtEdge,
      method: "near-best",
      kind,
      family,
      note: `all densities that lose less than ${significant(loss, 4)}${pieces === undefined ? "" : `; separate parts: ${pieces.map((piece) => piece.map((x) => significant(x, 4)).join(" to ")).join(", ")}`}`,
    });
  }
  return rows;
}

function limits({ lower, upper, lowerOpen, upperOpen, level, method }: Interval): Cells {
  return { lower, upper, lower_open: lowerOpen, upper_open: upperOpen, level, method };
}

function piecesNote({ pieces }: Interval): string | null {
  if (pieces === undefined) return null;
  const end = (value: number | null, open: string): string => (value === null ? open : significant(value, 4));
  return `separate parts: ${pieces.map(({ lower, upper }) => `${end(lower, "open")} to ${end(upper, "open")}`).join(", ")}`;
}

function row(base: Cells, values: Cells): TidyRow {
  const all = { ...base, ...values };
  return Object.fromEntries(columns.map((name) => [name, all[name] ?? null]));
}
