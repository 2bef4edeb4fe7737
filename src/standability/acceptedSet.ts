import type { Piece } from "../core/interval.ts";

/**
 * The part of [points[0], points[last]] where `statistic` does not exceed `cutoff`, as connected pieces.
 *
 * The statistic is evaluated at the given points and every crossing between neighbours is then found to rounding. A piece
 * that reaches the first or last point is open there (null end): the set may go on outside.
 *
 * @param points - ascending; put them where the statistic may turn
 */
export function acceptedSet(statistic: (x: number) => number, cutoff: number, points: ArrayLike<number>): Piece[] {
  const pieces: Piece[] = [];
  let inside = statistic(points[0]) <= cutoff;
  let lower: number | null = null;
  for (let i = 1; i < points.length; i++) {
    const now = statistic(points[i]) <= cutoff;
    if (now === inside) continue;
    const edge = crossing((x) => statistic(x) - cutoff, points[i - 1], points[i]);
    if (now) lower = edge;
    else pieces.push({ lower, upper: edge });
    inside = now;
  }
  if (inside) pieces.push({ lower, upper: null });
  return pieces;
}

/**
 * Root of `f` between `a` and `b`, where it changes sign (once, or the one found), by the Illinois rule with bisection as a
 * guard.
 *
 * Source: Dowell & Jarratt (1971), BIT 11, 168-174.
 */
export function crossing(f: (x: number) => number, a: number, b: number): number {
  let [left, right] = [a, b];
  let [fLeft, fRight] = [f(left), f(right)];
  if (fLeft === 0) return left;
  if (fRight === 0) return right;
  let side = 0;
  for (let step = 0; step < 200; step++) {
    const width = Math.abs(right - left);
    if (width <= 4e-16 * (Math.abs(left) + Math.abs(right))) break;
    const guess = (left * fRight - right * fLeft) / (fRight - fLeft);
    const usable =
      Number.isFinite(guess) && guess > Math.min(left, right) && guess < Math.max(left, right) && step % 4 !== 3;
    const middle = usable ? guess : (left + right) / 2;
    const value = f(middle);
    if (value === 0 || middle === left || middle === right) return middle;
    if (value > 0 === fRight > 0) {
      [right, fRight] = [middle, value];
      if (side === 1) fLeft /= 2;
      side = 1;
    } else {
      [left, fLeft] = [middle, value];
      if (side === -1) fRight /= 2;
      side = -1;
    }
  }
  return (left + right) / 2;
}
