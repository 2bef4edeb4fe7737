import { check } from "../core/errors.ts";
import { streamRandom } from "../core/random.ts";
import { chiSquareQuantile } from "../numeric/distributions.ts";
import type { AnalysisInput, CurveInput } from "./analysisInput.ts";
import { curvesFromTrial } from "./curvesFromTrial.ts";
import type { Field } from "./field.ts";
import { goalCurveAt, goalCurvesOf } from "./goalCurve.ts";
import { lowerFactor, timesFactor } from "./normalDraws.ts";
import type { GoalCurve, RecommendOptions } from "./recommendOptions.ts";
import { curvesFromFits, type DrawnCurve, streams } from "./responseDraws.ts";
import type { SharedWork } from "./sharedWork.ts";

/** Curves for a field, where they come from, and what had to be done without. */
export interface PickedCurves {
  readonly curves: readonly DrawnCurve[];
  /** The curve's analysis that the field is judged by. */
  readonly main: CurveInput;
  readonly source: "all environments" | "one environment" | "seasons seen" | "yield goal";
  readonly basis: "refitted plots" | "fits of the analysis" | "curve at the yield goal";
  readonly range: readonly [number, number];
  readonly notes: readonly string[];
}

/** Chooses the curves that a field is judged by, and draws from them. */
export function pickCurves(
  analysis: AnalysisInput,
  field: Field,
  options: RecommendOptions,
  count: number,
  shared: SharedWork,
): PickedCurves {
  const found = analysis.hybrids.find(({ hybrid }) => hybrid === field.hybrid);
  check(
    found !== undefined,
    "invalid-option",
    `the analysis has no hybrid "${field.hybrid}"; it has ${analysis.hybrids.map(({ hybrid }) => `"${hybrid}"`).join(", ")}`,
  );
  const notes: string[] = [];
  const { pooled, environments } = found;
  let main: CurveInput | null = null;
  if (field.environment !== undefined) {
    const own = environments.find(({ environment }) => environment === field.environment);
    const only = environments.length === 0 && analysis.trial.environments.includes(field.environment);
    if (own?.kind === "analysed") main = own;
    else if (!only) {
      const why = own === undefined ? "" : ` (${own.reason})`;
      notes.push(
        `There is no curve for the environment "${field.environment}"${why}; the curve of all environments is used.`,
      );
    }
  }
  const source = main === null ? "all environments" : "one environment";
  if (main === null) {
    check(
      pooled.kind === "analysed",
      "not-estimable",
      `${field.hybrid} could not be analysed: ${pooled.kind === "analysed" ? "" : pooled.reason}`,
    );
    main = pooled;
  }
  const range = rangeOf(main);
  const goal =
    field.yieldGoal === undefined || source === "one environment"
      ? null
      : goalCurve(field, found, options, notes, shared);
  if (goal !== null) {
    const curves = curvesAtGoal(goal, count, main.seed);
    return { curves, main, source: "yield goal", basis: "curve at the yield goal", range, notes };
  }
  const analysed = environments.filter((one): one is CurveInput => one.kind === "analysed");
  const seasons = options.seasons ?? (options.attitude?.kind === "chance" ? "seen" : "average");
  const { trial } = options;
  const drawn = (curve: CurveInput, n: number): { curves: DrawnCurve[]; refitted: boolean } => {
    const refits = trial === undefined ? null : curvesFromTrial(trial, curve, n);
    return { curves: refits ?? curvesFromFits(curve, n, curve.seed), refitted: refits !== null };
  };
  if (seasons === "seen" && source === "all environments" && analysed.length > 1) {
    const each = Math.max(2, Math.round(count / analysed.length / 2) * 2);
    const parts = analysed.map((curve) => ({ ...drawn(curve, each), range: rangeOf(curve) }));
    const common: [number, number] = [
      Math.max(...parts.map((part) => part.range[0])),
      Math.min(...parts.map((part) => part.range[1])),
    ];
    if (common[1] > common[0]) {
      return {
        curves: parts.flatMap(({ curves }) => curves),
        main,
        source: "seasons seen",
        basis: parts.every(({ refitted }) => refitted) ? "refitted plots" : "fits of the analysis",
        range: common,
        notes,
      };
    }
    notes.push("The environments share no tested range, so the curve of all environments together is used.");
  }
  const { curves, refitted } = drawn(main, count);
  if (trial !== undefined && !refitted) {
    notes.push(
      "The plots could not be refitted as they were analysed; curves are drawn from the fits of the analysis.",
    );
  }
  return { curves, main, source, basis: refitted ? "refitted plots" : "fits of the analysis", range, notes };
}

function rangeOf({ comparison }: CurveInput): readonly [number, number] {
  return comparison.fits[0].range;
}

/** Fewest environments from which the response by yield level is read. */
const FEWEST_ENVIRONMENTS = 5;

/** Curves given in the options come first, then the line that the analysis keeps, then a model of the trial's plots. */
function goalCurve(
  field: Field,
  { acrossEnvironments }: AnalysisInput["hybrids"][number],
  options: RecommendOptions,
  notes: string[],
  shared: SharedWork,
): GoalCurve | null {
  const goal = field.yieldGoal as number;
  const { trial } = options;
  const line = acrossEnvironments?.response.goalLine ?? null;
  const kept = line === null ? undefined : (_: string, level: number) => goalCurveAt(line, level);
  const curves =
    options.goalCurve ??
    kept ??
    (trial !== undefined && trial.environments.length >= FEWEST_ENVIRONMENTS
      ? shared.once(["goal curves"], () => goalCurvesOf(trial))
      : undefined);
  if (curves === undefined) {
    notes.push(
      `The response by yield level needs ${FEWEST_ENVIRONMENTS} environments or more, so the curve of all environments is used, moved up or down as a whole to the yield goal.`,
    );
    return null;
  }
  const answer = curves(field.hybrid, goal);
  if ("reason" in answer) {
    notes.push(
      `No curve for the yield goal (${answer.reason}); the curve of all environments is used, moved to the goal.`,
    );
    return null;
  }
  notes.push(...(answer.notes ?? []));
  return answer;
}

/** Mirrored pairs of draws, as from any other fit. */
function curvesAtGoal({ family, theta, vcov, dof }: GoalCurve, count: number, seed: number): DrawnCurve[] {
  if (vcov === null) return Array.from({ length: count }, () => ({ family, theta }));
  const random = streamRandom(seed, streams.curves);
  const factor = lowerFactor(vcov);
  const pairs = Math.ceil(count / 2);
  return Array.from({ length: pairs }, (_, pair) => {
    const scale = dof === null ? 1 : Math.sqrt(dof / chiSquareQuantile((pair + 0.5) / pairs, dof));
    const step = timesFactor(factor, random, scale);
    return [1, -1].map((sign) => ({ family, theta: theta.map((value, j) => value + sign * step[j]) }));
  })
    .flat()
    .slice(0, count);
}
