import { streamRandom } from "../core/random.ts";
import { curveOf } from "../curves/catalogue.ts";
import { emptyDraws, writeCurve } from "../interval/curveDraws.ts";
import { cutoffFrom, quantileFrom } from "../interval/cutoffRule.ts";
import { gainAtOptimum } from "../interval/gainAtOptimum.ts";
import { layoutOf } from "../interval/layout.ts";
import { optimumOf, valueAt } from "../interval/scaledCurve.ts";
import { fQuantile } from "../numeric/distributions.ts";
import type { JoinDesign } from "../numeric/joinDesign.ts";
import { refitKernel } from "../numeric/refitKernel.ts";
import { chiSquareDraw } from "./chiSquareDraw.ts";
import { type TruthCurve, trueOptimum } from "./truthCurves.ts";

/** Cut-offs of the envelope: a curve is compatible when RSS <= least RSS x (1 + factor). */
export interface EnvelopeCutoffs {
  /** For trials of each true curve; shape [curves]. */
  readonly factor: Float64Array;
  /** For the question whether a flat curve is compatible. */
  readonly flatFactor: number;
}

export interface CutoffSetting {
  /** Plots and blocks that the rows of the design stand for. */
  readonly plots: number;
  readonly blocks: number;
  readonly sigma: number;
  readonly level: number;
  /** Price ratio, yield units per density unit. */
  readonly r: number;
}

const SIMULATIONS = 499;
/** Curves of one family whose cut-off is simulated; the others take that of the nearest by optimum. */
const PER_FAMILY = 4;
/** Random numbers far from those of the simulated trials. */
const STREAM = 2147483648;
/** Linear, quadratic, linear-plateau, quadratic-plateau in `kernelFamilies`. */
const pick = [1, 2, 3, 4] as const;

/** F(level; 1, dof) / dof, dof being that of the richest candidate. */
export function plainCutoff({ plots, blocks, level }: CutoffSetting, levels: number): number {
  const dof = plots - blocks - (levels > 2 ? 2 : 1);
  return dof > 0 ? fQuantile(level, 1, dof) / dof : Number.POSITIVE_INFINITY;
}

/**
 * The simulated cut-offs that `optimumInterval` would find on average in trials of each true curve.
 *
 * `optimumInterval` simulates its cut-off from the curves fitted to one trial. Doing so inside a simulation would take thousands
 * of fits for every trial; here it is done once for each true curve, from the curves that fit it without noise. A test compares
 * the chance of a bounded interval with that of `optimumInterval` itself.
 */
export function envelopeCutoffs(
  design: JoinDesign,
  curves: readonly TruthCurve[],
  setting: CutoffSetting,
  seed: number,
): EnvelopeCutoffs {
  const plain = plainCutoff(setting, design.levels.length);
  const factor = new Float64Array(curves.length).fill(plain);
  const { plots, blocks } = setting;
  if (design.levels.length < 3 || !Number.isFinite(plain) || plots - blocks < 3) return { factor, flatFactor: plain };
  const simulate = simulator(design, setting, seed);
  const groups = representatives(curves, setting.r);
  for (const { curve, members } of groups) {
    const own = cutoffOf(design, curves[curve], setting, plain, simulate);
    for (const member of members) factor[member] = own;
  }
  const flatRatios = simulate(
    () => 0,
    () => 0,
  );
  const flatFactor = quantileFrom(flatRatios.sort(), setting.level);
  return { factor, flatFactor };
}

type Simulate = (valueAtLevel: (l: number) => number, gainOfTruth: (sums: Float64Array) => number) => Float64Array;

/** (best gain - gain of the truth) / least RSS over simulated trials of one curve. */
function simulator(design: JoinDesign, { plots, blocks, sigma }: CutoffSetting, seed: number): Simulate {
  const { level: levelOf, block, weight, blockWeight, nobs } = design;
  const m = design.levels.length;
  const kernel = refitKernel(design);
  const sums = new Float64Array(m);
  const errors = new Float64Array(m);
  const blockSum = new Float64Array(design.blocks);
  const root = weight.map(Math.sqrt);
  // Rows carry nobs - rows' blocks degrees of freedom of the plots - blocks there are; the rest is scatter inside rows.
  const rest = Math.max(plots - blocks - (nobs - design.blocks), 0);
  return (valueAtLevel, gainOfTruth) => {
    const value = Float64Array.from({ length: m }, (_, l) => valueAtLevel(l));
    const { sums: fitSums, total: fitTotal } = projected(design, value);
    const random = streamRandom(seed, STREAM);
    const ratios = new Float64Array(SIMULATIONS);
    for (let s = 0; s < SIMULATIONS; s++) {
      blockSum.fill(0);
      errors.fill(0);
      let total = fitTotal + sigma * sigma * chiSquareDraw(rest, random);
      for (let i = 0; i < nobs; i++) {
        const e = sigma * random.normal();
        errors[levelOf[i]] += root[i] * e;
        blockSum[block[i]] += root[i] * e;
        total += e * e;
      }
      for (let b = 0; b < blockSum.length; b++) {
        blockSum[b] /= blockWeight[b];
        total -= blockSum[b] * blockSum[b] * blockWeight[b];
      }
      for (let i = 0; i < nobs; i++) errors[levelOf[i]] -= weight[i] * blockSum[block[i]];
      for (let l = 0; l < m; l++) {
        total += 2 * value[l] * errors[l];
        sums[l] = fitSums[l] + errors[l];
      }
      kernel.fit(sums);
      const best = Math.max(kernel.gain[1], kernel.gain[2], kernel.gain[3], kernel.gain[4]);
      ratios[s] = (best - gainOfTruth(sums)) / Math.max(total - best, Number.MIN_VALUE);
    }
    return ratios;
  };
}

/** Level sums and total of a curve without noise, blocks projected out. */
function projected(design: JoinDesign, value: Float64Array): { sums: Float64Array; total: number } {
  const { level, block, weight, blockWeight, nobs } = design;
  const mean = new Float64Array(design.blocks);
  for (let i = 0; i < nobs; i++) mean[block[i]] += (weight[i] / blockWeight[block[i]]) * value[level[i]];
  const sums = new Float64Array(value.length);
  let total = 0;
  for (let i = 0; i < nobs; i++) {
    const deviation = value[level[i]] - mean[block[i]];
    sums[level[i]] += weight[i] * deviation;
    total += weight[i] * deviation * deviation;
  }
  return { sums, total };
}

/** Largest quantile of any family that fits the true curve well enough to be compatible at its own quantile. */
function cutoffOf(
  design: JoinDesign,
  truth: TruthCurve,
  setting: CutoffSetting,
  plain: number,
  simulate: Simulate,
): number {
  const { sigma, plots, blocks, r } = setting;
  const { mean } = curveOf(truth.family);
  const { sums, total } = projected(
    design,
    design.levels.map((x) => mean(x, truth.theta)),
  );
  const kernel = refitKernel(design);
  kernel.fit(sums);
  const layout = layoutOf(design);
  const draws = emptyDraws(pick.length);
  pick.forEach((family, i) => {
    writeCurve(draws, i, kernel, family, Float64Array.of(total, 0), layout);
  });
  const noise = sigma * sigma * (plots - blocks - 2);
  const rss = Array.from(draws.rss, (misfit) => misfit + noise);
  const least = Math.min(...rss);
  const scaledRatio = r * design.span;
  let factor = 0;
  pick.forEach((family, i) => {
    // Out of reach whatever its quantile: spares the simulation.
    if (rss[i] > least * (1 + 3 * plain)) return;
    const [a, b, c] = [draws.a[i], draws.b[i], draws.c[i]];
    const optimum = optimumOf(family, a, b, c, scaledRatio);
    const own =
      optimum > 0 && optimum < 1
        ? cutoffFrom(
            simulate(
              (l) => valueAt(family, a, b, c, design.scaled[l]),
              (drawn) => gainAtOptimum(design, drawn, optimum, scaledRatio, pick, family === 4 ? b : undefined),
            ),
            setting.level,
            plain,
          )
        : plain;
    if (rss[i] <= least * (1 + own)) factor = Math.max(factor, own);
  });
  return factor > 0 ? factor : plain;
}

/** Up to PER_FAMILY curves of each family, evenly by weight along the optimum, and the curves that go with each. */
function representatives(
  curves: readonly TruthCurve[],
  r: number,
): { readonly curve: number; readonly members: readonly number[] }[] {
  const place = curves.map((curve) => trueOptimum(curve, r).density ?? 0);
  const families = [...new Set(curves.map(({ family }) => family))];
  return families.flatMap((family) => {
    const own = curves.flatMap((curve, i) => (curve.family === family ? [i] : []));
    own.sort((a, b) => place[a] - place[b]);
    const total = own.reduce((sum, i) => sum + curves[i].weight, 0);
    const chosen = new Set<number>();
    let sum = 0;
    for (const i of own) {
      const before = Math.floor((sum / total) * PER_FAMILY + 0.5);
      sum += curves[i].weight;
      if (Math.floor((sum / total) * PER_FAMILY + 0.5) > before) chosen.add(i);
    }
    const list = chosen.size > 0 ? [...chosen] : own.slice(0, 1);
    const members = new Map<number, number[]>(list.map((i) => [i, []]));
    for (const i of own) {
      const nearest = list.reduce((best, one) =>
        Math.abs(place[one] - place[i]) < Math.abs(place[best] - place[i]) ? one : best,
      );
      members.get(nearest)?.push(i);
    }
    return list.map((curve) => ({ curve, members: members.get(curve) as number[] }));
  });
}
