import { checkShape } from "../core/checkShape.ts";
import { expm1, log, log1p, square } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { betaQuantile, normalQuantile } from "../numeric/distributions.ts";

/** Ends of an interval for a share, both in [0, 1]. */
export interface ShareInterval {
  readonly lower: number;
  readonly upper: number;
}

function checkCounts(events: number, trials: number, level: number): void {
  check(Number.isFinite(trials) && trials > 0, "invalid-data", `trials must be above 0, got ${trials}`);
  check(events >= 0 && events <= trials, "invalid-data", `events must be between 0 and ${trials}, got ${events}`);
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
}

/**
 * Score interval of Wilson for one share, without continuity correction.
 *
 * @example
 * wilsonInterval(12, 100, 0.95).lower.toFixed(7); // => "0.0699941"
 *
 * Source: Wilson (1927), JASA 22, 209-212. Oracle: test/oracle/proportions_share.json.
 */
export function wilsonInterval(events: number, trials: number, level = 0.95): ShareInterval {
  checkShape(events, "events", "number");
  checkShape(trials, "trials", "number");
  checkShape(level, "level", "number", "invalid-option");
  checkCounts(events, trials, level);
  const z2 = square(normalQuantile((1 + level) / 2));
  const p = events / trials;
  const centre = p + z2 / (2 * trials);
  const half = Math.sqrt(z2 * ((p * (1 - p)) / trials + z2 / (4 * (trials * trials))));
  const size = 1 + z2 / trials;
  return { lower: events === 0 ? 0 : (centre - half) / size, upper: events === trials ? 1 : (centre + half) / size };
}

/**
 * Exact interval of Clopper and Pearson for one share: never covers less than `level`, for independent plants.
 *
 * @example
 * clopperPearsonInterval(12, 100, 0.95).upper.toFixed(4); // => "0.2002"
 *
 * Source: Clopper & Pearson (1934), Biometrika 26(4), 404-413. Oracle: test/oracle/proportions_share.json.
 */
export function clopperPearsonInterval(events: number, trials: number, level = 0.95): ShareInterval {
  checkShape(events, "events", "number");
  checkShape(trials, "trials", "number");
  checkShape(level, "level", "number", "invalid-option");
  checkCounts(events, trials, level);
  const tail = (1 - level) / 2;
  return {
    // A quantile below the smallest number of a double is 0, and its series would not end.
    lower: log(tail) / events < -745 ? 0 : betaQuantile(tail, events, trials - events + 1),
    upper: events === trials ? 1 : betaQuantile(1 - tail, events + 1, trials - events),
  };
}

/**
 * Upper bound for a share when none of `trials` plants had the fault: 1 - (1 - level)^(1 / trials), near 3 / trials at 95 %.
 *
 * One-sided Clopper-Pearson bound for independent plants. `trials` may be an effective number (see `effectivePlants`).
 *
 * @example
 * upperBoundWhenNone(600).toFixed(4); // => "0.0050"
 *
 * Source: Hanley & Lippman-Hand (1983), JAMA 249(13), 1743-1745 (rule of three).
 */
export function upperBoundWhenNone(trials: number, level = 0.95): number {
  checkShape(trials, "trials", "number");
  checkShape(level, "level", "number", "invalid-option");
  checkCounts(0, trials, level);
  return -expm1(log1p(-level) / trials);
}

/**
 * How many independent plants tell as much as `plants` plants of one plot with intraclass correlation `icc`:
 * plants / (1 + (plants - 1) icc).
 * @example
 * effectivePlants(60, 0); // => 60
 * effectivePlants(60, 1); // => 1
 *
 * Source: Kish (1965), Survey Sampling, section 5.4 (design effect).
 */
export function effectivePlants(plants: number, icc: number): number {
  checkShape(plants, "plants", "number", "invalid-option");
  checkShape(icc, "icc", "number", "invalid-option");
  check(plants > 0, "invalid-data", `plants must be above 0, got ${plants}`);
  check(icc >= 0 && icc <= 1, "invalid-option", `icc must be between 0 and 1, got ${icc}`);
  return plants / (1 + (plants - 1) * icc);
}
