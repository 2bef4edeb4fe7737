import { distributionPoints, distributionTable, parametersOf } from "../numeric/distributionTable.ts";
import { collect, type Score } from "./score.ts";

/**
 * Every distribution function over the range used, far tails included, against 40-digit arithmetic; R 4.2.2 at the same points.
 *
 * @param all - false takes one in six points of the studentised range, whose functions are integrals over integrals
 */
export function distributionScores(all = true): Score[] {
  const { add, scores } = collect("Distribution functions");
  const ofR = collect("Distribution functions");
  for (const [i, point] of distributionPoints.entries()) {
    const set = `${point.dist} ${point.fn}`;
    if (!all && point.dist === "tukey" && i % 6 > 0) continue;
    const [a, b] = parametersOf(point);
    add(set, "value", distributionTable[set](point.at, a, b), point.value);
    ofR.add(set, "R 4.2.2", point.r_value, point.value);
  }
  return [...scores(), ...ofR.scores()];
}
