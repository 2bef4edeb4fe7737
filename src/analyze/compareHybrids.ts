import { summarise } from "../interval/limits.ts";
import type { CurveOutcome } from "./analyzeCurve.ts";
import type { FlexDifference, HybridComparison, OptimumDifference } from "./result.ts";

/** Up to this many hybrids every pair is compared; beyond, each with the one of the highest score. */
const ALL_PAIRS = 12;

/** Compares the hybrids' pooled curves by flex score on the common reference densities, and by agronomic optimum. */
export function compareHybridCurves(
  outcomes: readonly CurveOutcome[],
  between: readonly [number, number] | null,
  level: number,
  lodging: HybridComparison["lodging"],
): HybridComparison {
  const scored = outcomes.flatMap(({ analysis, flexReplicates }) =>
    analysis.kind === "analysed" && analysis.flex.flex.score !== null
      ? [{ hybrid: analysis.hybrid, score: analysis.flex.flex.score, replicates: flexReplicates }]
      : [],
  );
  scored.sort((a, b) => b.score - a.score);
  const differences: FlexDifference[] = [];
  scored.forEach((first, i) => {
    if (i > 0 && scored.length > ALL_PAIRS) return;
    for (const second of scored.slice(i + 1)) {
      if (!first.replicates || !second.replicates) continue;
      const draws = difference(first.replicates, second.replicates);
      const valid = draws.filter((draw) => !Number.isNaN(draw));
      differences.push({
        first: first.hybrid,
        second: second.hybrid,
        difference: first.score - second.score,
        interval: summarise(draws, level, null, (value) => value).interval,
        probability: valid.length === 0 ? 0.5 : shareAbove(valid),
      });
    }
  });
  return {
    between,
    byFlex: scored.map(({ hybrid }) => hybrid),
    differences,
    lodging,
    optimumDifferences: compareOptima(outcomes),
    note:
      scored.length > ALL_PAIRS
        ? `more than ${ALL_PAIRS} hybrids: each is compared with the one of the highest score`
        : between === null
          ? "the densities tested for the hybrids do not overlap, so their flex scores cannot be compared"
          : null,
  };
}

/** Share of draws above zero; zeros (two flat curves, say) count half. */
function shareAbove(draws: Float64Array): number {
  return draws.reduce((sum, draw) => sum + (draw > 0 ? 1 : draw === 0 ? 0.5 : 0), 0) / draws.length;
}

function compareOptima(outcomes: readonly CurveOutcome[]): OptimumDifference[] {
  const curves = outcomes.flatMap(({ analysis, optimumReplicates }) =>
    analysis.kind === "analysed" && optimumReplicates !== null
      ? [{ hybrid: analysis.hybrid, optimum: analysis.agronomic.optimum, replicates: optimumReplicates }]
      : [],
  );
  const differences: OptimumDifference[] = [];
  curves.forEach((first, i) => {
    if (i > 0 && curves.length > ALL_PAIRS) return;
    for (const second of curves.slice(i + 1)) {
      const draws = Math.min(first.replicates.length, second.replicates.length);
      let higher = 0;
      for (let r = 0; r < draws; r++) {
        const a = first.replicates[r];
        const b = second.replicates[r];
        higher += a === null || b === null || a === b ? 0.5 : a > b ? 1 : 0;
      }
      const inside = first.optimum.kind === "interior" && second.optimum.kind === "interior";
      differences.push({
        first: first.hybrid,
        second: second.hybrid,
        difference: inside ? (first.optimum.density as number) - (second.optimum.density as number) : null,
        probability: draws === 0 ? 0.5 : higher / draws,
      });
    }
  });
  return differences;
}

function difference(a: readonly (number | null)[], b: readonly (number | null)[]): Float64Array {
  return Float64Array.from({ length: Math.min(a.length, b.length) }, (_, i) => {
    const first = a[i];
    const second = b[i];
    return first === null || second === null ? Number.NaN : first - second;
  });
}
