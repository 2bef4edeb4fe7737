/**
 * Share of (1 - level) by which the F cut-off may fall short before a simulated one replaces it: 0.4 makes the band 93 to 97 %
 * at 95 %.
 */
const SHORTFALL = 0.4;

/**
 * Cut-off for trials of one curve: the plain one while it keeps its promise, else the simulated quantile.
 *
 * @param ratios - (least RSS with the optimum where the curve has it - least RSS) / least RSS in simulated trials; sorted in place when a quantile is taken
 * @param level - stated level, 0 < level < 1
 * @param plain - F(level; 1, dof) / dof
 * @returns `plain` when at least level - 0.4 (1 - level) of the ratios are within it; else their `level` quantile
 */
export function cutoffFrom(ratios: Float64Array, level: number, plain: number): number {
  let within = 0;
  for (const ratio of ratios) if (ratio <= plain) within++;
  if (within >= (level - SHORTFALL * (1 - level)) * ratios.length) return plain;
  return quantileFrom(ratios.sort(), level);
}

/** Upper `level` quantile of sorted simulated values, as an exact Monte-Carlo test takes it. */
export function quantileFrom(sorted: Float64Array, level: number): number {
  return sorted[Math.min(Math.ceil(level * (sorted.length + 1)), sorted.length) - 1];
}
