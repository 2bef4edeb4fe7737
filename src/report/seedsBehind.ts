import type { CurveAnalysis, TrialAnalysis } from "../analyze/result.ts";
import type { Interval } from "../core/interval.ts";

/** The seeding rate behind a density; null when it is not known. */
export function seedsBehind(analysis: TrialAnalysis, curve: CurveAnalysis, density: number): number | null {
  if (analysis.trial.densityAxis === "seeding-rate") return density;
  return curve.establishment === null ? null : density / curve.establishment;
}

/** An interval of densities moved to seeding rates; null when they are not known. */
export function seedInterval(interval: Interval, analysis: TrialAnalysis, curve: CurveAnalysis): Interval | null {
  if (seedsBehind(analysis, curve, 1) === null) return null;
  const move = (value: number | null): number | null => (value === null ? null : seedsBehind(analysis, curve, value));
  return {
    ...interval,
    lower: move(interval.lower),
    upper: move(interval.upper),
    ...(interval.pieces === undefined
      ? {}
      : { pieces: interval.pieces.map((piece) => ({ lower: move(piece.lower), upper: move(piece.upper) })) }),
  };
}
