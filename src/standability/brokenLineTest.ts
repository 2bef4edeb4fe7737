import { streamRandom } from "../core/random.ts";
import { type BrokenLineDesign, greatestGain, levelSums, project, sumOfSquares } from "../numeric/brokenLine.ts";

/** Simulated trials per random stream: fixed, so that the answer does not depend on how the work is spread. */
const PER_STREAM = 1000;

/**
 * P value of the largest F over all breaks: share of trials simulated under a straight line, with this layout and normal
 * errors, whose largest F is at least the observed one, the observed trial counted too.
 *
 * Level, slope and error variance cancel from the statistic, so the simulated trials are as good as the real one and the size
 * is exactly the nominal one whenever (simulations + 1) times it is whole.
 *
 * Source: Barnard (1963), JRSS B 25, 294 (Monte-Carlo test); Davies (1987), Biometrika 74(1), 33-43.
 */
export function brokenLineTest(
  design: BrokenLineDesign,
  statistic: number,
  dofResidual: number,
  simulations: number,
  seed: number,
): number {
  const noise = new Float64Array(design.nobs);
  let random = streamRandom(seed, 0);
  let asLarge = 1;
  for (let s = 0; s < simulations; s++) {
    if (s % PER_STREAM === 0) random = streamRandom(seed, s / PER_STREAM);
    for (let i = 0; i < noise.length; i++) noise[i] = random.normal();
    const rest = project(noise, design);
    const gain = greatestGain(design, levelSums(rest, design));
    if ((gain / 2) * dofResidual >= statistic * (sumOfSquares(rest) - gain)) asLarge++;
  }
  return asLarge / (simulations + 1);
}
