import { bootstrapCases, repeatBootstrap } from "../interval/bootstrapReference.ts";
import { collect, type Score } from "./score.ts";

/** Bootstraps repeated with the indices that R drew: replicates, limits, jackknife influence. */
export function bootstrapScores(): Score[] {
  const cases = bootstrapCases();
  const { add, scores } = collect("Bootstrap with fixed indices", (set) =>
    cases.some(({ analysis, beside }) => analysis.id === set && beside),
  );
  for (const reference of cases) {
    repeatBootstrap(reference, (figure, actual, expected) => void add(reference.analysis.id, figure, actual, expected));
  }
  return scores();
}
