import type { DensityLimit } from "./densityLimit.ts";
import { rangeInterval } from "./figure.ts";
import { standOf } from "./lodgingSide.ts";
import type { Attitude } from "./recommendOptions.ts";
import { bestRate, type Returns } from "./returns.ts";
import type { Scene } from "./scene.ts";

const CELLS = 128;

/** The rate that pays best on the tested range, and where the draws put it. */
export function economicSide(scene: Scene, returns: Returns, attitude: Attitude): DensityLimit {
  const { rates, count, net, seedCost } = scene;
  const rate = bestRate(returns.worth, rates);
  const kind = rate <= rates[0] ? "at-lowest" : rate >= rates[1] ? "at-highest" : "at";
  const at = (g: number): number => rates[0] + ((rates[1] - rates[0]) * g) / CELLS;
  const step = (rates[1] - rates[0]) / CELLS;
  const grid = new Float64Array(CELLS + 1);
  const best = Float64Array.from({ length: count }, (_, d) => {
    let top = 0;
    for (let g = 0; g <= CELLS; g++) {
      grid[g] = net[d] * scene.yieldAt(d, at(g)) - seedCost[d] * at(g);
      if (grid[g] > grid[top]) top = g;
    }
    if (top === 0) return Number.NEGATIVE_INFINITY;
    if (top === CELLS) return Number.POSITIVE_INFINITY;
    // Vertex of the parabola through the top point and its neighbours.
    const bend = grid[top - 1] - 2 * grid[top] + grid[top + 1];
    return at(top) + (bend < 0 ? (step * (grid[top - 1] - grid[top + 1])) / (2 * bend) : 0);
  });
  const aim =
    attitude.kind === "expected"
      ? "Highest expected return over the curves that the evidence allows"
      : `Highest return that is missed with a chance of ${Number((100 * attitude.chance).toPrecision(3))} %`;
  const where =
    kind === "at"
      ? "."
      : kind === "at-highest"
        ? "; it lies at or above the highest tested density."
        : "; it lies at or below the lowest tested density.";
  return {
    name: "economic-optimum",
    kind,
    rate,
    stand: standOf(scene, rate),
    interval: rangeInterval(best, rates, scene.level),
    basis: aim + where,
  };
}
