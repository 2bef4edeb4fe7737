import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { type PreparedData, prepareData } from "../fit/fitData.ts";
import { fitRows } from "../fit/leverage.ts";
import {
  type IntervalData,
  intervalDataShape,
  type PreparedIntervalData,
  prepareIntervalData,
} from "../interval/intervalData.ts";
import type { Check, CheckEffect, CheckInput } from "./diagnoseCheck.ts";
import { densityCheck, fittedCheck } from "./diagnoseMean.ts";
import { neighbourCheck, trendCheck } from "./diagnosePosition.ts";
import { normalityCheck, outlierCheck, spreadByDensity, spreadByFitted } from "./diagnoseSpread.ts";
import {
  type Decision,
  type DecisionOptions,
  decide,
  decisionMoves,
  decisionOptionsShape,
  labelsOfPlots,
  moveInWords,
  type Place,
} from "./influenceDecision.ts";

/** Plots with, optionally, the order in which they lie in the field. */
export interface DiagnoseData extends IntervalData {
  /** Position of each plot along the field (strip or planting order), finite; within its environment; shape [n]. */
  readonly order?: ArrayLike<number>;
}

/** What `DiagnoseData` must look like. */
export const diagnoseDataShape: { readonly [property: string]: Shape } = { ...intervalDataShape, order: "numbers?" };

export interface DiagnoseOptions extends DecisionOptions {
  /** Significance level at which a check says "look"; default 0.05. */
  readonly alpha?: number;
  /** Start of the random shuffles of the neighbour check, integer >= 0; default 1. */
  readonly seed?: number;
  /** Degree of the trend along the field, 1 or 2; default 2. */
  readonly trendDegree?: 1 | 2;
  /** Word for the density unit in sentences; default none. */
  readonly densityUnit?: string;
}

/** What `DiagnoseOptions` must look like. */
export const diagnoseOptionsShape: { readonly [property: string]: Shape } = {
  ...decisionOptionsShape,
  alpha: "number?",
  seed: "number?",
  trendDegree: "any?",
  densityUnit: "text?",
};

export interface Diagnosis {
  readonly schema: "standcurve/diagnosis/1";
  readonly decision: Decision;
  readonly checks: readonly Check[];
  /** Findings that move the optimum, in words; empty when none does. */
  readonly alarms: readonly string[];
  /** One entry a plot, for drawing: fitted value, residual, externally studentised residual (null without one), leverage. */
  readonly rows: readonly {
    readonly density: number;
    readonly fitted: number;
    readonly residual: number;
    readonly studentised: number | null;
    readonly leverage: number;
  }[];
}

/**
 * Checks of the chosen curve, each with its effect on the optimum: whether it matters, not only whether it is significant.
 *
 * @param data - plots; `order` adds the checks along the field
 * @throws AnalysisError `length-mismatch`, `invalid-data` or `invalid-option` for bad arguments
 * @throws AnalysisError `not-estimable` when no curve can be chosen or there are no residual degrees of freedom
 * @example
 * const density = [18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43];
 * const yields = [176, 188, 197, 201, 198, 193, 174, 190, 196, 199, 200, 192];
 * diagnose({ density, yield: yields }).checks.length; // => 8
 *
 * Source: each check names its own.
 */
export function diagnose(data: DiagnoseData, options: DiagnoseOptions = {}): Diagnosis {
  checkShape(data, "data", diagnoseDataShape);
  checkShape(options, "options", diagnoseOptionsShape, "invalid-option");
  const { alpha = 0.05, seed = 1, trendDegree = 2, densityUnit = "" } = options;
  check(alpha > 0 && alpha < 1, "invalid-option", `alpha must be between 0 and 1, got ${alpha}`);
  check(Number.isSafeInteger(seed) && seed >= 0, "invalid-option", `seed must be an integer >= 0, got ${seed}`);
  check(trendDegree === 1 || trendDegree === 2, "invalid-option", `trendDegree must be 1 or 2, got ${trendDegree}`);
  const prepared = prepareIntervalData(data);
  const order = readOrder(data.order, prepared.x.length);
  const base = decide(prepared, options);
  check(base !== null, "not-estimable", `${prepared.x.length} plots are too few to choose a curve`);
  const { decision, fit } = base;
  check(fit.dofResidual > 0, "not-estimable", "there are no residual degrees of freedom, so there is nothing to check");
  const rows = fitRows(prepared, fit);
  const input: CheckInput = {
    data: prepared,
    fit,
    ...rows,
    studentised: externallyStudentised(prepared, fit, rows),
    order,
    labels: labelsOfPlots(prepared.x.length, options.plotLabels),
    alpha,
    seed,
    trendDegree,
    again: (change) => changed(prepared, change, options),
    refit: (weight) => {
      const data = prepareData({ density: prepared.x, yield: prepared.y, block: Array.from(prepared.block), weight });
      const next = decide(data, options);
      return next && { decision: next.decision, residuals: fitRows(data, next.fit).residuals };
    },
    effect: (remedy, other) => effectOf(decision, other, remedy, prepared.design.span, densityUnit),
  };
  const checks = [
    densityCheck(input),
    fittedCheck(input),
    spreadByDensity(input),
    spreadByFitted(input),
    normalityCheck(input),
    outlierCheck(input),
    neighbourCheck(input),
    trendCheck(input),
  ];
  return {
    schema: "standcurve/diagnosis/1",
    decision,
    checks,
    alarms: checks.flatMap(({ verdict, message, effect }) =>
      verdict === "matters" && effect ? [`${message}; ${effect.remedy}, ${effect.sentence}`] : [],
    ),
    rows: Array.from(prepared.x, (density, i) => ({
      density,
      fitted: rows.fitted[i],
      residual: rows.residuals[i],
      studentised: Number.isNaN(input.studentised[i]) ? null : input.studentised[i],
      leverage: rows.leverage[i],
    })),
  };
}

function readOrder(order: ArrayLike<number> | undefined, nobs: number): Float64Array | null {
  if (order === undefined) return null;
  check(order.length === nobs, "length-mismatch", `density has ${nobs} values but order has ${order.length}`);
  const values = Float64Array.from(order);
  const bad = values.findIndex((value) => !Number.isFinite(value));
  check(bad < 0, "invalid-data", `order must hold finite numbers; order[${bad}] is ${values[bad]}`);
  return values;
}

/**
 * r_i sqrt(w_i) / (s_(i) sqrt(1 - h_i)), s_(i) without plot i: Student's t on dof - 1 degrees of freedom for normal errors.
 *
 * Source: Belsley, Kuh & Welsch (1980), eq. 2.26.
 */
function externallyStudentised(
  { weight }: PreparedData,
  fit: CurveFit,
  { residuals, leverage }: { residuals: Float64Array; leverage: Float64Array },
): Float64Array {
  const rss = fit.rss as number;
  return residuals.map((r, i) => {
    const room = 1 - leverage[i];
    if (room < 1e-9 || fit.dofResidual < 2) return Number.NaN;
    const square = (weight[i] * r * r) / room;
    const rest = (rss - square) / (fit.dofResidual - 1);
    return rest > 0 ? (Math.sqrt(weight[i]) * r) / Math.sqrt(rest * room) : Number.NaN;
  });
}

function changed(
  data: PreparedIntervalData,
  { yield: y = data.y, weight = data.weight, keep }: Parameters<CheckInput["again"]>[0],
  options: DecisionOptions,
): Decision | null {
  const plots = keep ?? Array.from(data.x, (_, i) => i);
  const prepared = prepareData({
    density: plots.map((i) => data.x[i]),
    yield: plots.map((i) => y[i]),
    block: plots.map((i) => data.block[i]),
    weight: plots.map((i) => weight[i]),
  });
  return decide(prepared, options)?.decision ?? null;
}

function effectOf(
  base: Decision,
  other: Partial<Decision> | null,
  remedy: string,
  span: number,
  unit: string,
): CheckEffect {
  if (other === null) {
    return { remedy, decision: null, matters: false, sentence: "no curve could be chosen that way" };
  }
  const which = base.economic && other.economic ? "economic" : "agronomic";
  const from = base[which] as Place;
  const to = (other[which] ?? { kind: "none", density: null }) as Place;
  return {
    remedy,
    decision: other,
    matters: decisionMoves(from, to, span),
    sentence: `the ${which} optimum ${moveInWords(from, to, unit)}`,
  };
}
