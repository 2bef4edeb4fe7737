import { AnalysisError } from "./errors.ts";

/**
 * An answer whose numbers are all finite, or a refusal: figures near the limits of a double can overflow on the way to an answer that
 * is asked for in one step, where there is no status to say so.
 *
 * @throws AnalysisError `invalid-data` when a number of the answer is not finite
 */
export function finiteResult<T extends number | object>(answer: T): T {
  for (const value of typeof answer === "number" ? [answer] : Object.values(answer))
    if (typeof value === "number" && !Number.isFinite(value))
      throw new AnalysisError(
        "invalid-data",
        "the answer is too large or too small for a computer's number: check the figures and their units",
      );
  return answer;
}
