import type { Interval, Piece } from "../core/interval.ts";

export interface OptimumSetInput {
  /** Lowest and highest tested density. */
  readonly range: readonly [number, number];
  /** Slope of the expected curve at x minus the price ratio, per density unit. */
  readonly slope: (x: number) => number;
  /** Half width of its interval at x: t quantile times standard error; only whether it exceeds |slope| counts. */
  readonly margin: (x: number) => number;
  readonly level: number;
  readonly method: string;
}

/** Points at which the inequality is looked at before its ends are refined. */
const GRID = 400;

/**
 * Densities at which the data do not exclude that the curve is flat (its slope equal to the price ratio): the test
 * inversion set of an optimum, Fieller's set for a quadratic.
 *
 * {x in range : |slope(x)| <= margin(x)}. A set that touches an end of the range is open there: a steeper optimum beyond it
 * is not excluded. When the slope is clearly positive (negative) over the whole range the set is the upper (lower) end.
 *
 * Source: Fieller (1954), J. R. Statist. Soc. B 16, 175-185.
 */
export function optimumSet({ range, slope, margin, level, method }: OptimumSetInput): Interval {
  const [low, high] = range;
  const excess = (x: number): number => Math.abs(slope(x)) - margin(x);
  const points = Array.from({ length: GRID + 1 }, (_, i) => low + ((high - low) * i) / GRID);
  const values = points.map(excess);
  const cuts: number[] = [];
  for (let i = 0; i < GRID; i++)
    if (values[i] > 0 !== values[i + 1] > 0) cuts.push(bisect(excess, points[i], points[i + 1]));
  const pieces: Piece[] = [];
  let start: number | null = values[0] <= 0 ? low : null;
  let openAtLow = values[0] <= 0;
  for (const cut of cuts) {
    if (start === null) start = cut;
    else {
      pieces.push({ lower: openAtLow ? null : start, upper: cut });
      start = null;
      openAtLow = false;
    }
  }
  if (start !== null) pieces.push({ lower: openAtLow ? null : start, upper: null });
  if (pieces.length === 0) {
    // The curve rises (or falls) clearly everywhere it was tested.
    const rising = slope((low + high) / 2) > 0;
    return {
      lower: rising ? high : null,
      upper: rising ? null : low,
      lowerOpen: !rising,
      upperOpen: rising,
      level,
      method,
    };
  }
  const last = pieces[pieces.length - 1];
  return {
    lower: pieces[0].lower,
    upper: last.upper,
    lowerOpen: pieces[0].lower === null,
    upperOpen: last.upper === null,
    level,
    method,
    ...(pieces.length > 1 ? { pieces } : {}),
  };
}

function bisect(f: (x: number) => number, a: number, b: number): number {
  let left = a;
  let right = b;
  const sign = f(left) > 0;
  for (let i = 0; i < 60; i++) {
    const middle = 0.5 * (left + right);
    if (f(middle) > 0 === sign) left = middle;
    else right = middle;
  }
  return 0.5 * (left + right);
}
