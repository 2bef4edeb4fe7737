import { streamRandom } from "../core/random.ts";
import type { InnerFamily } from "../curves/family.ts";
import type { PreparedData } from "../fit/fitData.ts";
import { joinResponse } from "../numeric/joinDesign.ts";
import { kernelFamilies, type RefitKernel, refitKernel } from "../numeric/refitKernel.ts";
import { type CurveDraws, emptyDraws, writeCurve } from "./curveDraws.ts";
import { layoutOf } from "./layout.ts";
import { noiseMoments } from "./noiseMoments.ts";
import { valueAt } from "./scaledCurve.ts";

/** Trials simulated from one curve; what is left after refitting all families. */
export interface Scene {
  /** Level sums of each trial; shape [simulations x levels]. */
  readonly sums: Float64Array;
  /** Sum of squares within blocks of each trial. */
  readonly total: Float64Array;
  /** Largest sum of squares that a family takes off. */
  readonly best: Float64Array;
}

/** The candidate families' best curves for one set of plots, and trials simulated from each. */
export interface SimulatedTrials {
  readonly simulations: number;
  /** Candidates, indices into `kernelFamilies`. */
  readonly pick: readonly number[];
  /** Residual sums of squares, parallel to `pick`. */
  readonly rss: readonly number[];
  readonly least: number;
  /** Sum of squares within blocks. */
  readonly total: number;
  /** Best curves, parallel to `pick`. */
  readonly truths: CurveDraws;
  /** Trials from the curve of candidate i; of no response at all with -1. Made when first asked for. */
  scene(i: number): Scene;
}

/** Simulations made before for the same plots, so that two targets do not make them twice. */
export type SimulationMemo = Map<string, SimulatedTrials>;

/** Random numbers far from those of the bootstrap with the same seed. */
const STREAM = 1073741824;

/**
 * Simulates trials: normal errors added to each family's best curve, all families refitted. The errors are the same for all curves,
 * and nothing here depends on prices, so one set serves every target.
 *
 * @param dof - residual degrees of freedom of the richest candidate
 */
export function simulatedTrials(
  data: PreparedData,
  families: readonly InnerFamily[],
  { dof, simulations, seed }: { readonly dof: number; readonly simulations: number; readonly seed: number },
  memo?: SimulationMemo,
): SimulatedTrials {
  const key = JSON.stringify([families, dof, simulations, seed]);
  const known = memo?.get(key);
  if (known !== undefined) return known;
  const { design } = data;
  const response = joinResponse(design, data.y);
  const kernel = refitKernel(design);
  kernel.fit(response.sums);
  const pick = families.map((family) => kernelFamilies.indexOf(family));
  const rss = pick.map((family) => Math.max(response.total - kernel.gain[family], 0));
  const least = Math.min(...rss);
  const layout = layoutOf(design);
  const truths = emptyDraws(pick.length);
  pick.forEach((family, i) => {
    writeCurve(truths, i, kernel, family, Float64Array.of(response.total, 0), layout);
  });
  const errors = drawErrors(data, Math.sqrt(least / dof), simulations, seed);
  const scenes = new Map<number, Scene>();
  const made: SimulatedTrials = {
    simulations,
    pick,
    rss,
    least,
    total: response.total,
    truths,
    scene(i) {
      const found = scenes.get(i);
      if (found !== undefined) return found;
      const { a, b, c } = truths;
      const curve = Float64Array.from(design.scaled, (u) => (i < 0 ? 0 : valueAt(pick[i], a[i], b[i], c[i], u)));
      const scene = sceneOf(data, curve, errors, kernel, pick);
      scenes.set(i, scene);
      return scene;
    },
  };
  memo?.set(key, made);
  return made;
}

/** What normal errors add to the level sums and the total of each simulated trial. */
interface Errors {
  readonly sums: Float64Array;
  readonly total: Float64Array;
}

function drawErrors({ design }: PreparedData, sigma: number, simulations: number, seed: number): Errors {
  const levels = design.levels.length;
  const noise = noiseMoments(design);
  const random = streamRandom(seed, STREAM);
  const one = new Float64Array(levels);
  const sums = new Float64Array(simulations * levels);
  const total = new Float64Array(simulations);
  for (let s = 0; s < simulations; s++) {
    total[s] = sigma * sigma * noise.draw(random, one);
    for (let l = 0; l < levels; l++) sums[s * levels + l] = sigma * one[l];
  }
  return { sums, total };
}

function sceneOf(
  { design }: PreparedData,
  curve: Float64Array,
  errors: Errors,
  kernel: RefitKernel,
  pick: readonly number[],
): Scene {
  const levels = design.levels.length;
  const simulations = errors.total.length;
  // Level sums and total of the curve itself, blocks projected out.
  const fit = joinResponse(
    design,
    Float64Array.from(design.level, (l) => curve[l]),
  );
  const sums = new Float64Array(simulations * levels);
  const total = new Float64Array(simulations);
  const best = new Float64Array(simulations);
  const one = new Float64Array(levels);
  for (let s = 0; s < simulations; s++) {
    const o = s * levels;
    let all = fit.total + errors.total[s];
    for (let l = 0; l < levels; l++) {
      const error = errors.sums[o + l];
      all += 2 * curve[l] * error;
      one[l] = fit.sums[l] + error;
      sums[o + l] = one[l];
    }
    kernel.fit(one);
    let most = 0;
    for (const family of pick) if (kernel.gain[family] > most) most = kernel.gain[family];
    total[s] = all;
    best[s] = most;
  }
  return { sums, total, best };
}
