import { exp, log } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { streamRandom } from "../core/random.ts";
import { betaBinomialSample } from "../standability/betaBinomialSample.ts";
import { fitLodging } from "../standability/fitLodging.ts";
import { standabilityLimit } from "../standability/standabilityLimit.ts";
import type { PlannedDesign } from "./plannedDesign.ts";
import { meanOf, type Share, type SimulatedMean, shareOf } from "./share.ts";

export interface LodgingGoal {
  /** Density at which the tolerated share truly lodges. */
  readonly limit: number;
  /** Default 0.10. */
  readonly tolerated?: number;
  /** Rise of the logit per density unit, > 0. */
  readonly slope: number;
  /** Plants looked at in each plot; default 50. */
  readonly examined?: number;
  /** Correlation between plants of a plot; default 0.05. */
  readonly icc?: number;
  /** Standard deviation of the block level on the logit scale; default 0. */
  readonly blockSd?: number;
  /** Simulated trials; default 300. */
  readonly simulations?: number;
}

/** Chance that counts of lodged plants say where the standability limit lies. */
export interface LodgingPower {
  readonly limit: number;
  readonly tolerated: number;
  /** Both ends of the limit's interval lie inside the tested range. */
  readonly bounded: Share;
  /** The lower end does: some tested density is known to stand. */
  readonly lowerBounded: Share;
  readonly upperBounded: Share;
  /** The interval holds the true limit. */
  readonly covered: Share;
  /** Width of the bounded intervals. */
  readonly width: SimulatedMean;
  /** How the fits ended; every simulated trial is in one of these. */
  readonly status: Readonly<Record<string, number>>;
  /** Trials in which no interval could be given; they count as not bounded, not as covered or uncovered. */
  readonly withoutInterval: number;
  readonly simulations: number;
}

/**
 * Simulates lodging counts and finds the standability limit in each.
 *
 * The interval is Fieller's with the F cut-off: the default of `standabilityLimit` takes its cut-off from a bootstrap and is
 * somewhat wider, but would take a thousand fits for every simulated trial. Where nothing lodges, or all does, or the fit ends
 * without estimate, that is counted under `status`.
 */
export function lodgingPower(planned: PlannedDesign, level: number, goal: LodgingGoal, seed: number): LodgingPower {
  const { limit, tolerated = 0.1, slope, examined = 50, icc = 0.05, blockSd = 0, simulations = 300 } = goal;
  check(limit > 0 && Number.isFinite(limit), "invalid-option", `lodging.limit must be > 0, got ${limit}`);
  check(tolerated > 0 && tolerated < 1, "invalid-option", `lodging.tolerated must be in (0, 1), got ${tolerated}`);
  check(slope > 0 && Number.isFinite(slope), "invalid-option", `lodging.slope must be > 0, got ${slope}`);
  check(
    Number.isInteger(examined) && examined >= 1,
    "invalid-option",
    `lodging.examined must be >= 1, got ${examined}`,
  );
  check(
    icc >= 0 && icc < 1 && blockSd >= 0,
    "invalid-option",
    `lodging needs 0 <= icc < 1 and blockSd >= 0, got ${icc}, ${blockSd}`,
  );
  const { densities, blocks, environments } = planned;
  const centre = log(tolerated / (1 - tolerated));
  let bounded = 0;
  let lower = 0;
  let upper = 0;
  let covered = 0;
  let withoutInterval = 0;
  const status: Record<string, number> = {};
  const widths: number[] = [];
  const low = densities[0];
  const high = densities[densities.length - 1];
  for (let i = 0; i < simulations; i++) {
    const random = streamRandom(seed, i);
    const density: number[] = [];
    const lodged: number[] = [];
    const block: string[] = [];
    for (let b = 0; b < blocks * environments; b++) {
      const shift = blockSd * random.normal();
      for (const x of densities) {
        const share = 1 / (1 + exp(-(centre + shift + slope * (x - limit))));
        density.push(x);
        lodged.push(betaBinomialSample(examined, share, icc, random));
        block.push(String(b));
      }
    }
    const fit = fitLodging({ density, lodged, examined: lodged.map(() => examined), block });
    status[fit.status] = (status[fit.status] ?? 0) + 1;
    const { interval } = standabilityLimit(fit, { tolerated, level, method: "fieller" });
    if (interval === null) {
      withoutInterval++;
      continue;
    }
    if (!interval.lowerOpen) lower++;
    if (!interval.upperOpen) upper++;
    const { lower: from, upper: to } = interval;
    if (from !== null && to !== null) {
      bounded++;
      widths.push(to - from);
    }
    const holdsLow = from === null ? interval.lowerOpen || limit <= low : from <= limit;
    const holdsHigh = to === null ? interval.upperOpen || limit >= high : to >= limit;
    if (holdsLow && holdsHigh) covered++;
  }
  return {
    limit,
    tolerated,
    bounded: shareOf(bounded, simulations),
    lowerBounded: shareOf(lower, simulations),
    upperBounded: shareOf(upper, simulations),
    covered: shareOf(covered, simulations - withoutInterval),
    width: meanOf(widths),
    status,
    withoutInterval,
    simulations,
  };
}
