import { goldenSection } from "../numeric/goldenSection.ts";

/** Points looked at before the search narrows down; a mean curve times a lodging curve turns at most a few times. */
const CELLS = 64;

/**
 * Largest value of a continuous function on [low, high]: grid, then golden section in the cells around the best point.
 *
 * @param corners - places where the function may bend sharply (a join); they are looked at too
 * @param share - accuracy of the place, as a share of the range
 * @returns the smallest maximiser among equals
 */
export function greatestOnRange(
  value: (x: number) => number,
  low: number,
  high: number,
  corners: readonly number[] = [],
  cells: number = CELLS,
  share = 1e-9,
): { at: number; value: number } {
  const points = Array.from({ length: cells + 1 }, (_, i) => (i === cells ? high : low + ((high - low) * i) / cells));
  for (const corner of corners) if (corner > low && corner < high) points.push(corner);
  points.sort((a, b) => a - b);
  const values = points.map(value);
  let best = 0;
  // A rise within rounding is none: of equals the smallest density is wanted.
  for (let i = 1; i < points.length; i++) if (values[i] > values[best] + 1e-13 * Math.abs(values[best])) best = i;
  let [at, top] = [points[best], values[best]];
  for (const [from, to] of [
    [Math.max(best - 1, 0), best],
    [best, Math.min(best + 1, points.length - 1)],
  ]) {
    if (points[from] === points[to]) continue;
    const { middle } = goldenSection(value, points[from], points[to], 200, share * (high - low));
    const there = value(middle);
    if (there > top + 1e-13 * Math.abs(top)) [at, top] = [middle, there];
  }
  return { at, value: top };
}
