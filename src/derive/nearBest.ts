/** All densities of the tested range whose result is within a stated loss of the best. */
export interface NearBest {
  /** Stated loss, in the unit of the result (yield or money per area). */
  readonly loss: number;
  /** Lower end; it is the end of the tested range when `lowerAtEdge`. */
  readonly lower: number;
  readonly upper: number;
  /** The range goes on to (and perhaps beyond) the lowest or highest tested density. */
  readonly lowerAtEdge: boolean;
  readonly upperAtEdge: boolean;
  /** Set when the densities form several separate ranges (a curve that bends upwards). */
  readonly pieces?: readonly (readonly [number, number])[];
}

/** Intervals looked at; every family has at most two turning points, so none can hide between the points. */
const CELLS = 96;

/**
 * Densities x in [low, high] with value(x) >= best - loss.
 *
 * @param value - result at a density: yield, or money
 * @param best - its largest value on the range
 * @param loss - >= 0
 * @param corners - densities where `value` bends or turns (optimum, join), so that a narrow top is not stepped over
 */
export function nearBest(
  value: (x: number) => number,
  best: number,
  loss: number,
  [low, high]: readonly [number, number],
  corners: readonly number[],
): NearBest {
  const points = Array.from({ length: CELLS + 1 }, (_, i) => low + ((high - low) * i) / CELLS);
  points[CELLS] = high;
  points.push(...corners.filter((x) => x > low && x < high));
  points.sort((a, b) => a - b);
  // Rounding must not push the best density itself out of its own range.
  const floor = best - loss - 4 * Number.EPSILON * Math.abs(best);
  const inside = (x: number): boolean => value(x) >= floor;

  const pieces: [number, number][] = [];
  let start: number | null = inside(points[0]) ? low : null;
  for (let i = 1; i < points.length; i++) {
    const now = inside(points[i]);
    if (now && start === null) start = crossing(inside, points[i - 1], points[i]);
    if (!now && start !== null) {
      pieces.push([start, crossing(inside, points[i], points[i - 1])]);
      start = null;
    }
  }
  if (start !== null) pieces.push([start, high]);
  const lower = pieces[0][0];
  const upper = pieces[pieces.length - 1][1];
  return {
    loss,
    lower,
    upper,
    lowerAtEdge: lower === low,
    upperAtEdge: upper === high,
    ...(pieces.length > 1 ? { pieces } : {}),
  };
}

/** Bisection to the last bit for the point where `inside` becomes true on the way from `outside` to `within`. */
function crossing(inside: (x: number) => boolean, outside: number, within: number): number {
  let out = outside;
  let into = within;
  for (let i = 0; i < 200; i++) {
    const middle = (out + into) / 2;
    if (middle === out || middle === into) break;
    if (inside(middle)) into = middle;
    else out = middle;
  }
  return into;
}
