import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { prepareData } from "../fit/fitData.ts";
import {
  type IntervalData,
  intervalDataShape,
  type PreparedIntervalData,
  prepareIntervalData,
} from "../interval/intervalData.ts";
import {
  type Decision,
  type DecisionOptions,
  decide,
  decisionMoves,
  decisionOptionsShape,
  labelsOfPlots,
  moveInWords,
  type Place,
  shiftOf,
} from "./influenceDecision.ts";

export interface InfluenceOptions extends DecisionOptions {
  /** Word for the density unit in sentences, such as "thousand plants/ac"; default none. */
  readonly densityUnit?: string;
}

/** What `InfluenceOptions` must look like. */
export const influenceOptionsShape: { readonly [property: string]: Shape } = {
  ...decisionOptionsShape,
  densityUnit: "text?",
};

export type LeftOutKind = "plot" | "block" | "density" | "environment";

/** What would have been said without some plots. */
export interface LeftOut {
  readonly unit: LeftOutKind;
  /** Name of the plot (its number from 1 unless `plotLabels` are given), label of the block or environment, or the density. */
  readonly label: string;
  readonly plots: number;
  /** Null when the rest cannot carry a decision; see `reason`. */
  readonly decision: Decision | null;
  readonly reason: string | null;
  /** Without these plots less with them, in density units (scores for `flexScore`); null when either does not exist. */
  readonly shift: {
    readonly agronomic: number | null;
    readonly economic: number | null;
    readonly flexScore: number | null;
  };
  readonly familyChanged: boolean;
  /** The optimum (economic when there are prices) moves by more than 5 % of the tested range, or appears or disappears. */
  readonly matters: boolean;
}

export interface Influence {
  readonly schema: "standcurve/influence/1";
  /** With all plots. */
  readonly decision: Decision;
  /** Every plot, block, density and environment left out in turn. */
  readonly leftOut: readonly LeftOut[];
  /** Those that matter, the largest shift first; at most five of each kind. */
  readonly worst: readonly LeftOut[];
  /** The worst ones in words. */
  readonly sentences: readonly string[];
}

const WORST = 5;

/**
 * How the decision hangs on single plots, blocks, densities and environments: each is left out in turn, all families are fitted
 * again and chosen anew.
 *
 * Without the lowest or highest density the tested range is shorter too, and the optimum is sought in what is left.
 *
 * @throws AnalysisError `length-mismatch` or `invalid-data` as `fitCurve`
 * @throws AnalysisError `not-estimable` when all plots together cannot carry a decision
 * @example
 * const density = [18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43];
 * const yields = [176, 188, 197, 201, 198, 193, 174, 190, 196, 199, 200, 192];
 * influence({ density, yield: yields }).decision.family; // => "quadratic"
 *
 * Source: deletion diagnostics as in Belsley, Kuh & Welsch (1980), Regression Diagnostics, applied to the decision.
 */
export function influence(data: IntervalData, options: InfluenceOptions = {}): Influence {
  checkShape(data, "data", intervalDataShape);
  checkShape(options, "options", influenceOptionsShape, "invalid-option");
  const prepared = prepareIntervalData(data);
  const base = decide(prepared, options);
  check(base !== null, "not-estimable", `${prepared.x.length} plots are too few to choose a curve`);
  const { decision } = base;
  const leftOut = units(prepared, labelsOfPlots(prepared.x.length, options.plotLabels)).map((unit) =>
    without(prepared, unit, decision, options),
  );
  const worst = (["environment", "block", "density", "plot"] as const).flatMap((kind) =>
    leftOut
      .filter((one) => one.unit === kind && one.matters)
      .sort((a, b) => sizeOf(b) - sizeOf(a))
      .slice(0, WORST),
  );
  const unit = options.densityUnit ?? "";
  const sentences = worst.map((one) => sentence(decision, one, unit));
  if (sentences.length === 0) {
    sentences.push(
      "leaving out any one plot, block, density or environment moves the optimum by less than 5 % of the tested range",
    );
  }
  return { schema: "standcurve/influence/1", decision, leftOut, worst, sentences };
}

interface Unit {
  readonly kind: LeftOutKind;
  readonly label: string;
  readonly plots: readonly number[];
}

function units(
  { x, block, blockLabels, environment, design }: PreparedIntervalData,
  plotLabels: readonly string[],
): Unit[] {
  const all = Array.from(x, (_, i) => i);
  const where = (test: (i: number) => boolean): number[] => all.filter(test);
  const several = environment !== null && environment.labels.length > 1 ? environment.labels : [];
  return [
    ...several.map((label, e): Unit => ({ kind: "environment", label, plots: where((i) => environment?.of[i] === e) })),
    ...(blockLabels.length > 1
      ? blockLabels.map((label, b): Unit => ({ kind: "block", label, plots: where((i) => block[i] === b) }))
      : []),
    ...Array.from(
      design.levels,
      (density, l): Unit => ({ kind: "density", label: String(density), plots: where((i) => design.level[i] === l) }),
    ),
    ...all.map((i): Unit => ({ kind: "plot", label: plotLabels[i], plots: [i] })),
  ];
}

function without(
  data: PreparedIntervalData,
  { kind, label, plots }: Unit,
  base: Decision,
  options: DecisionOptions,
): LeftOut {
  const out = new Set(plots);
  const kept = Array.from(data.x, (_, i) => i).filter((i) => !out.has(i));
  const rest =
    kept.length === 0
      ? null
      : decide(
          prepareData({
            density: kept.map((i) => data.x[i]),
            yield: kept.map((i) => data.y[i]),
            block: kept.map((i) => data.block[i]),
            weight: kept.map((i) => data.weight[i]),
          }),
          options,
        );
  const decision = rest?.decision ?? null;
  const main = (of: Decision): Place => of.economic ?? of.agronomic;
  return {
    unit: kind,
    label,
    plots: plots.length,
    decision,
    reason: decision === null ? `the ${kept.length} plots that are left are too few to choose a curve` : null,
    shift: {
      agronomic: shiftOf(base.agronomic, decision?.agronomic ?? null),
      economic: shiftOf(base.economic, decision?.economic ?? null),
      flexScore:
        decision === null || decision.flexScore === null || base.flexScore === null
          ? null
          : decision.flexScore - base.flexScore,
    },
    familyChanged: decision !== null && decision.family !== base.family,
    matters:
      decision !== null &&
      !merelyShorter(kind, Number(label), main(base), main(decision)) &&
      decisionMoves(main(base), main(decision), data.design.span),
  };
}

/** "18 or less" becomes "23 or less" without 18: a shorter range, the same finding. */
function merelyShorter(kind: LeftOutKind, density: number, from: Place, to: Place): boolean {
  return kind === "density" && from.kind !== "interior" && from.kind === to.kind && from.density === density;
}

/** An optimum that appears or disappears counts as a larger change than any shift. */
function sizeOf({ decision, shift }: LeftOut): number {
  const size = decision?.economic ? shift.economic : shift.agronomic;
  return size === null ? Number.MAX_VALUE : Math.abs(size);
}

function sentence(base: Decision, { unit, label, decision }: LeftOut, densityUnit: string): string {
  const which = decision?.economic && base.economic ? "economic" : "agronomic";
  const from = base[which] as Place;
  const to = decision?.[which] as Place;
  const family =
    decision && decision.family !== base.family
      ? `, and the chosen curve changes from ${base.family} to ${decision.family}`
      : "";
  const name = unit === "density" ? String(Number(Number(label).toPrecision(3))) : label;
  return `without ${unit} ${name} the ${which} optimum ${moveInWords(from, to, densityUnit)}${family}`;
}
