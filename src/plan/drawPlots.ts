import type { RandomStream } from "../core/random.ts";
import type { CurveData } from "../fit/fitData.ts";
import type { EnvironmentSpread } from "./drawTrial.ts";
import type { PlannedDesign } from "./plannedDesign.ts";

/** How far each environment moves the optimum; shape [environments], sites running fastest. */
export function drawShifts(
  { environments }: PlannedDesign,
  sites: number,
  spread: EnvironmentSpread,
  random: RandomStream,
): Float64Array {
  const shifts = new Float64Array(environments);
  const site = Float64Array.from({ length: sites }, () => spread.site * random.normal());
  for (let e = 0, year = 0; e < environments; e++) {
    if (e % sites === 0) year = spread.year * random.normal();
    shifts[e] = site[e % sites] + year + spread.siteYear * random.normal();
  }
  return shifts;
}

/**
 * One simulated trial plot by plot: what a file would hold. Used where level means are not enough (resampling).
 *
 * @param mean - true yield at density x where the environment moves the optimum by `shift`
 */
export function drawPlots(
  planned: PlannedDesign,
  mean: (x: number, shift: number) => number,
  sigma: number,
  shifts: Float64Array,
  random: RandomStream,
): CurveData {
  const { densities, blocks, environments } = planned;
  const density: number[] = [];
  const yields: number[] = [];
  const block: number[] = [];
  for (let e = 0; e < environments; e++) {
    for (let b = 0; b < blocks; b++) {
      for (const x of densities) {
        density.push(x);
        yields.push(mean(x, shifts[e]) + sigma * random.normal());
        block.push(e * blocks + b);
      }
    }
  }
  return { density, yield: yields, block };
}
