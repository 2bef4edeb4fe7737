import { log10, pow } from "../core/elementary.ts";
import type { MixedResponseFit } from "../mixed/mixedResponse.ts";
import { responseAtYieldGoal, type YieldGoalOptions } from "../mixed/responseAtYieldGoal.ts";
import type { GoalLevel } from "./environmentsResult.ts";
import { mixedReport } from "./mixedReport.ts";
import type { OnAxes } from "./result.ts";

/** Round levels to look at, at least; with fewer a family of curves shows no direction. */
const FEWEST_LEVELS = 3;

/** A round level nearer to the goal than this share of the step would only crowd it. */
const APART = 0.35;

/**
 * The response at round yield levels between the lowest and the highest level seen, and at the goal asked for, by rising level: a family of
 * curves that shows how, if at all, better fields want another density.
 *
 * Empty where the response cannot follow the yield level: too few environments, or levels that do not vary.
 */
export function goalLevels(
  fit: MixedResponseFit,
  yieldGoal: number,
  options: Omit<YieldGoalOptions, "yieldGoal">,
  axes: (density: number | null) => OnAxes,
): GoalLevel[] {
  const asked = responseAtYieldGoal(fit, { ...options, yieldGoal });
  const { observedLevels } = asked;
  const levels = roundLevels(...observedLevels);
  const step = levels.length > 1 ? levels[1] - levels[0] : observedLevels[1] - observedLevels[0];
  const shown = [
    ...levels.filter((level) => asked.kind === "refused" || Math.abs(level - yieldGoal) > APART * step),
    ...(asked.kind === "refused" ? [] : [yieldGoal]),
  ].sort((a, b) => a - b);
  return shown.flatMap((level) => {
    const answer = responseAtYieldGoal(fit, { ...options, yieldGoal: level });
    if (answer.kind === "refused") return [];
    return [
      {
        yieldGoal: level,
        extrapolated: answer.extrapolated,
        curve: answer.curve.map((point) => ({ density: point.density, yield: point.yield })),
        agronomic: mixedReport(answer.agronomic, axes),
        economic: answer.economic === null ? null : mixedReport(answer.economic, axes),
      },
    ];
  });
}

/**
 * Multiples of the largest step of 1, 2 or 5 times a power of ten of which at least three lie in the range.
 *
 * @example
 * roundLevels(163.2, 228.9); // => [180, 200, 220]
 */
export function roundLevels(low: number, high: number): number[] {
  if (!(high > low)) return [];
  const tens = Math.floor(log10(high - low));
  for (let e = tens; e > tens - 3; e--) {
    for (const digit of [5, 2, 1]) {
      const step = digit * pow(10, e);
      const first = Math.ceil(low / step - 1e-9);
      const count = Math.floor(high / step + 1e-9) - first + 1;
      // Multiples of an integer, so that no rounding error of a sum is shown.
      if (count >= FEWEST_LEVELS)
        return Array.from({ length: count }, (_, i) => Number(((first + i) * step).toPrecision(12)));
    }
  }
  return [];
}
