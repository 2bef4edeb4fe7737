import { square } from "../core/elementary.ts";
import type { RandomStream } from "../core/random.ts";
import { curveOf } from "../curves/catalogue.ts";
import { chiSquareDraw } from "./chiSquareDraw.ts";
import type { PlannedDesign } from "./plannedDesign.ts";
import { shiftCurve, type TruthCurve } from "./truthCurves.ts";

/** How far the optimum moves between places and seasons: standard deviations, density units. */
export interface EnvironmentSpread {
  /** Between sites, the same in all years. */
  readonly site: number;
  /** Between years, the same at all sites: more sites do not average it out. */
  readonly year: number;
  /** Of single site-years about site + year. */
  readonly siteYear: number;
}

/** Draws simulated trials of one planned design, reduced to what a fit needs. */
export interface TrialDraw {
  /**
   * One trial of the true curve number `curve`.
   *
   * @param sums - receives the level sums with blocks projected out; shape [m]
   * @returns their total sum of squares within blocks
   */
  draw(curve: number, random: RandomStream, sums: Float64Array): number;
}

/**
 * Simulator of plot yields y = block + Y(x - shift of the environment) + N(0, sigma^2), by level means.
 *
 * With every density once in every block, level means are independent N(Y(x_l), sigma^2 / plots) up to a common shift and the
 * plots within blocks add sigma^2 chi-square((blocks - 1)(m - 1)) in each environment, independently (Cochran). Drawing these
 * is the same as drawing plots, and much faster.
 */
export function trialDraw(
  planned: PlannedDesign,
  curves: readonly TruthCurve[],
  sigma: number,
  spread: EnvironmentSpread = { site: 0, year: 0, siteYear: 0 },
  sites: number = planned.environments,
): TrialDraw {
  const { densities, environments, errorDof } = planned;
  const m = densities.length;
  const years = environments / sites;
  const perLevel = planned.blocks;
  const moves = spread.site > 0 || spread.year > 0 || spread.siteYear > 0;
  const means = curves.map(({ family, theta }) => densities.map((x) => curveOf(family).mean(x, theta)));
  const all = perLevel * environments;
  const deviation = new Float64Array(environments * m);
  const siteShift = new Float64Array(sites);

  function still(curve: number, random: RandomStream, sums: Float64Array): number {
    const mean = means[curve];
    const error = sigma / Math.sqrt(all);
    let grand = 0;
    for (let l = 0; l < m; l++) {
      sums[l] = mean[l] + error * random.normal();
      grand += sums[l];
    }
    grand /= m;
    let total = 0;
    for (let l = 0; l < m; l++) {
      const d = sums[l] - grand;
      total += all * d * d;
      sums[l] = all * d;
    }
    // Environments that share one curve: density x environment is error too.
    const dof = (all - 1) * (m - 1);
    return total + sigma * sigma * chiSquareDraw(dof, random);
  }

  function moving(curve: number, random: RandomStream, sums: Float64Array): number {
    const truth = curves[curve];
    const { mean } = curveOf(truth.family);
    const error = sigma / Math.sqrt(perLevel);
    for (let s = 0; s < sites; s++) siteShift[s] = spread.site * random.normal();
    sums.fill(0);
    for (let t = 0, e = 0; t < years; t++) {
      const yearShift = spread.year * random.normal();
      for (let s = 0; s < sites; s++, e++) {
        const theta = shiftCurve(truth, siteShift[s] + yearShift + spread.siteYear * random.normal());
        let average = 0;
        for (let l = 0; l < m; l++) {
          const value = mean(densities[l], theta) + error * random.normal();
          deviation[e * m + l] = value;
          average += value / m;
        }
        for (let l = 0; l < m; l++) {
          deviation[e * m + l] -= average;
          sums[l] += deviation[e * m + l] / environments;
        }
      }
    }
    let total = 0;
    for (let e = 0; e < environments; e++)
      for (let l = 0; l < m; l++) total += perLevel * square(deviation[e * m + l] - sums[l]);
    for (let l = 0; l < m; l++) {
      total += all * sums[l] * sums[l];
      sums[l] *= all;
    }
    return total + sigma * sigma * chiSquareDraw(errorDof, random);
  }

  return { draw: moves ? moving : still };
}
