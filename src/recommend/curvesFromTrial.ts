import { pow } from "../core/elementary.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { type PreparedData, prepareData } from "../fit/fitData.ts";
import { fitRows } from "../fit/leverage.ts";
import { residualSampler } from "../interval/sampler.ts";
import { refitKernel } from "../numeric/refitKernel.ts";
import type { Trial } from "../trial/trial.ts";
import type { CurveInput } from "./analysisInput.ts";
import { type DrawnCurve, decidingFits, drawFits } from "./responseDraws.ts";

const STREAM_SIZE = 1000;

/**
 * Draws by refitting: half from the quadratic's t distribution, half from the residual bootstrap of the analysis, each replicate
 * choosing again among the quadratic and the two plateau curves (all three have as many parameters, so the smallest residual sum
 * of squares is chosen). Null when the plots leave no residual degrees of freedom, too few densities, or are not those analysed.
 *
 * @param trial - the trial behind the analysis
 */
export function curvesFromTrial(trial: Trial, curve: CurveInput, count: number): DrawnCurve[] | null {
  const data = plotsOf(trial, curve);
  const fits = decidingFits(curve);
  const base = fits.reduce((best, one) => (one.weight > best.weight ? one : best)).fit;
  const quadratic = fits.filter(({ fit }) => fit.family === "quadratic").map(({ fit }) => ({ fit, weight: 1 }));
  if (data === null || data.design.levels.length < 3 || base.dofResidual < 1) return null;
  if (base.nobs !== data.design.nobs) return null;
  const half = quadratic.length === 0 ? 0 : Math.floor(count / 2);
  return [...drawFits(quadratic, half, curve.seed), ...bootstrapped(data, base, count - half, curve.seed)];
}

function plotsOf(trial: Trial, { hybrid, environment }: CurveInput): PreparedData | null {
  const plots = trial.plots.filter(
    (plot) =>
      plot.excluded === null &&
      plot.density !== null &&
      plot.yield !== null &&
      plot.hybrid === hybrid &&
      (environment === null || plot.environment === environment),
  );
  if (plots.length === 0) return null;
  return prepareData({
    density: plots.map((plot) => plot.density as number),
    yield: plots.map((plot) => plot.yield as number),
    block: plots.map((plot) => JSON.stringify([plot.environment, plot.block])),
    weight: plots.map((plot) => plot.weight),
  });
}

function bootstrapped(data: PreparedData, base: CurveFit, count: number, seed: number): DrawnCurve[] {
  const { design } = data;
  const { low, span, scaled, blocks, blockWeight } = design;
  const kernel = refitKernel(design);
  const sampler = residualSampler(data, fitRows(data, base));
  const share = new Float64Array(scaled.length);
  for (let i = 0; i < design.nobs; i++) {
    share[design.level[i]] += data.weight[i] / blockWeight[design.block[i]] / blocks;
  }
  const average = (f: (u: number) => number): number => scaled.reduce((sum, u, l) => sum + share[l] * f(u), 0);
  const { moments } = sampler;
  const curves: DrawnCurve[] = [];
  for (let start = 0, stream = 0; start < count; start += STREAM_SIZE, stream++) {
    sampler.begin(seed, stream);
    for (let i = start; i < Math.min(start + STREAM_SIZE, count); i++) {
      sampler.draw();
      kernel.fit(moments);
      const best = [2, 3, 4].reduce((a, b) => (kernel.gain[b] > kernel.gain[a] * (1 + 1e-12) ? b : a));
      curves.push(inDensityUnits(best, kernel.shape, moments[moments.length - 1], average, low, span));
    }
  }
  return curves;
}

/** The kernel's curve on the scaled axis, put at the level of the average block and back into density units. */
function inDensityUnits(
  family: number,
  shape: Float64Array,
  level: number,
  average: (f: (u: number) => number) => number,
  low: number,
  span: number,
): DrawnCurve {
  const parabola = (b1: number, b2: number): DrawnCurve => {
    const a = level - average((u) => b1 * u + b2 * u * u);
    const quadratic = b2 / (span * span);
    const linear = b1 / span - 2 * quadratic * low;
    return { family: "quadratic", theta: [a - (b1 / span) * low + quadratic * low * low, linear, quadratic] };
  };
  if (family === 2) return parabola(shape[1], shape[2]);
  const power = family - 2;
  const rate = shape[family === 3 ? 3 : 5];
  const join = shape[family === 3 ? 4 : 6];
  if (join === Number.POSITIVE_INFINITY) return parabola(shape[0], 0);
  const below = average((u) => pow(Math.max(join - u, 0), power));
  const theta = [level + rate * below, rate / pow(span, power), low + span * join];
  return { family: power === 1 ? "linear-plateau" : "quadratic-plateau", theta };
}
