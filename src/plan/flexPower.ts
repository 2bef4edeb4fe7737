import { log, pow } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { streamRandom } from "../core/random.ts";
import { curveOf } from "../curves/catalogue.ts";
import { isInner } from "../curves/family.ts";
import { comparePrepared } from "../fit/compareCurves.ts";
import { prepareData } from "../fit/fitData.ts";
import { bootstrapPrepared } from "../interval/bootstrap.ts";
import { summarise } from "../interval/limits.ts";
import { drawPlots, drawShifts } from "./drawPlots.ts";
import type { EnvironmentSpread } from "./drawTrial.ts";
import type { PlannedDesign } from "./plannedDesign.ts";
import { meanOf, type Share, type SimulatedMean, shareOf } from "./share.ts";
import { checkCurves, curveSchedule, shiftCurve, type TruthCurve } from "./truthCurves.ts";

export interface FlexGoal {
  /** Reference densities of the score. */
  readonly between: readonly [number, number];
  /** By how much the second hybrid's score is lower than the first's; or give its curve. */
  readonly difference?: number;
  readonly other?: TruthCurve;
  /** Simulated pairs of hybrids; default 200 (each is analysed with its own resampling). */
  readonly simulations?: number;
  /** Resamples in each analysis; default 300. */
  readonly resamples?: number;
}

/** Chance to tell two hybrids' flex scores apart in one trial. */
export interface FlexPower {
  readonly between: readonly [number, number];
  /** True difference, first - second, averaged over the curves. */
  readonly difference: number;
  /** The interval of the difference leaves out zero, on the true side. */
  readonly told: Share;
  /** It leaves out zero on the wrong side. */
  readonly wrong: Share;
  /** The interval holds the true difference. */
  readonly covered: Share;
  readonly width: SimulatedMean;
  /** Pairs that could not be analysed; left out of the shares. */
  readonly failed: number;
  readonly simulations: number;
}

/** Flex score of a true curve: 100 (1 - ln(Y2 / Y1) / ln(x2 / x1)). */
export function trueFlex(
  { family, theta }: Pick<TruthCurve, "family" | "theta">,
  [x1, x2]: readonly [number, number],
): number {
  const { mean } = curveOf(family);
  return 100 * (1 - log(mean(x2, theta) / mean(x1, theta)) / log(x2 / x1));
}

/**
 * Simulates pairs of hybrids grown in one trial and analyses each pair as `analyzeTrial` does: AICc choice, selection-inclusive
 * bootstrap of each score, percentile interval of the difference.
 */
export function flexPower(
  planned: PlannedDesign,
  sites: number,
  curves: readonly TruthCurve[],
  sigma: number,
  spread: EnvironmentSpread,
  level: number,
  goal: FlexGoal,
  seed: number,
): FlexPower {
  const { between, simulations = 200, resamples = 300 } = goal;
  const pairs = pairsOf(curves, goal);
  const schedule = curveSchedule(curves, simulations);
  let told = 0;
  let wrong = 0;
  let covered = 0;
  let failed = 0;
  const widths: number[] = [];
  for (let i = 0; i < simulations; i++) {
    const { first, second, difference } = pairs[schedule[i]];
    const random = streamRandom(seed, i);
    const shifts = drawShifts(planned, sites, spread, random);
    const scores = [first, second].map((mean, h) => {
      const data = prepareData(drawPlots(planned, mean, sigma, shifts, random));
      const comparison = comparePrepared(data);
      if (comparison.best === null) return null;
      const families = comparison.fits
        .filter((fit) => fit.aicc !== null && fit.dofResidual > 0)
        .map((fit) => fit.family);
      if (!families.every(isInner) || families.length === 0) return null;
      const options = { families, level, resamples, seed: 2 * i + h, between, keep: true } as const;
      return bootstrapPrepared(data, options, comparison).replicates?.flexScore ?? null;
    });
    const [a, b] = scores;
    if (!a || !b) {
      failed++;
      continue;
    }
    const draws = Float64Array.from(a, (value, j) => {
      const other = b[j];
      return value === null || other === null ? Number.NaN : value - other;
    });
    const { lower, upper } = summarise(draws, level, null, (value) => value).interval;
    const above = lower !== null && lower > 0;
    const below = upper !== null && upper < 0;
    if (difference >= 0 ? above : below) told++;
    if (difference >= 0 ? below : above) wrong++;
    if ((lower === null || lower <= difference) && (upper === null || upper >= difference)) covered++;
    if (lower !== null && upper !== null) widths.push(upper - lower);
  }
  const judged = simulations - failed;
  const total = curves.reduce((sum, { weight }) => sum + weight, 0);
  return {
    between,
    difference: pairs.reduce((sum, pair, i) => sum + (pair.difference * curves[i].weight) / total, 0),
    told: shareOf(told, judged),
    wrong: shareOf(wrong, judged),
    covered: shareOf(covered, judged),
    width: meanOf(widths),
    failed,
    simulations,
  };
}

interface Pair {
  readonly first: Mean;
  readonly second: Mean;
  readonly difference: number;
}
type Mean = (x: number, shift: number) => number;

/**
 * The second hybrid of each pair: its own curve, or the first one's times (x / x2)^(difference / 100), whose flex score is lower
 * by exactly `difference` whatever the curve.
 */
function pairsOf(curves: readonly TruthCurve[], { between, difference, other }: FlexGoal): Pair[] {
  check(
    between[0] > 0 && between[1] > between[0],
    "invalid-option",
    `flex.between needs 0 < x1 < x2, got ${between[0]} and ${between[1]}`,
  );
  if (other !== undefined) checkCurves([other], "flex.other");
  check(
    (other === undefined) !== (difference === undefined) && Number.isFinite(difference ?? 0),
    "invalid-option",
    "flex needs either a difference of scores or the other hybrid's curve",
  );
  const curveMean =
    (curve: TruthCurve): Mean =>
    (x, shift) =>
      curveOf(curve.family).mean(x, shiftCurve(curve, shift));
  return curves.map((curve) => {
    const first = curveMean(curve);
    if (other !== undefined)
      return { first, second: curveMean(other), difference: trueFlex(curve, between) - trueFlex(other, between) };
    const power = (difference as number) / 100;
    const second: Mean = (x, shift) => first(x, shift) * pow(x / between[1], power);
    return { first, second, difference: difference as number };
  });
}
