import { type RandomStream, streamRandom } from "../core/random.ts";
import type { PreparedData } from "../fit/fitData.ts";
import type { FitRows } from "../fit/leverage.ts";
import { accumulator } from "./accumulator.ts";
import type { Grouping } from "./intervalData.ts";
import type { Sampler } from "./sampler.ts";

/**
 * A sampler that adds errors of its own making to the fitted values.
 *
 * @param fill - writes the errors of one replicate, times sqrt(w_i), into the array; shape [n]
 */
function errorSampler(
  data: PreparedData,
  rows: FitRows,
  fill: (random: RandomStream, errors: Float64Array) => void,
): Sampler {
  const { drawn, finish, moments } = accumulator(data, rows);
  let random = streamRandom(0, 0);
  return {
    begin(seed, stream) {
      random = streamRandom(seed, stream);
    },
    draw() {
      fill(random, drawn);
      finish();
    },
    moments,
  };
}

/** `rademacher`: -1 or 1. `webb`: six values, -+ sqrt(1/2), 1, sqrt(3/2), for few units. Both have variance 1. */
export type Multipliers = "rademacher" | "webb";

const webb = [-Math.sqrt(1.5), -1, -Math.sqrt(0.5), Math.sqrt(0.5), 1, Math.sqrt(1.5)];

/**
 * Wild bootstrap: each plot keeps its own residual, divided by 1 - h and multiplied by a random sign or six-point weight, so
 * unequal scatter stays where it is. Plots of one cluster share the multiplier, so what they have in common stays too.
 *
 * @param unit - plots that share a multiplier; null: each its own
 *
 * Source: Davidson & Flachaire (2008), Journal of Econometrics 146, 162-169 (the multiplier, residuals over 1 - h);
 * Webb (2014), Queen's Economics Department working paper 1315 (six points).
 */
export function wildSampler(
  data: PreparedData,
  rows: FitRows,
  multipliers: Multipliers,
  unit: Grouping | null,
): Sampler {
  const { residuals, leverage } = rows;
  const scaled = residuals.map((value, i) =>
    leverage[i] < 1 - 1e-9 ? (value * Math.sqrt(data.weight[i])) / (1 - leverage[i]) : 0,
  );
  const of = unit?.of ?? Int32Array.from(scaled, (_, i) => i);
  const factor = new Float64Array(unit?.labels.length ?? scaled.length);
  return errorSampler(data, rows, (random, errors) => {
    for (let k = 0; k < factor.length; k++) {
      factor[k] = multipliers === "webb" ? webb[random.below(6)] : 2 * random.below(2) - 1;
    }
    for (let i = 0; i < errors.length; i++) errors[i] = factor[of[i]] * scaled[i];
  });
}

/** Parametric bootstrap: normal errors with the residual standard deviation of the fit. Source: Davison & Hinkley (1997), 6.2. */
export function parametricSampler(data: PreparedData, rows: FitRows, sigma: number): Sampler {
  return errorSampler(data, rows, (random, errors) => {
    for (let i = 0; i < errors.length; i++) errors[i] = sigma * random.normal();
  });
}
