import { square } from "../core/elementary.ts";
import { type BrokenLineDesign, project, sumOfSquares } from "../numeric/brokenLine.ts";
import { inverseSymmetric } from "../numeric/glm.ts";

/**
 * Least-squares coefficients at a given break (on [0, 1]), or of the straight line; `vcov` is (J'J)^-1 of left slope, change
 * of slope and break with blocks projected out, or of the slope alone.
 */
export function brokenLineCoefficients(
  design: BrokenLineDesign,
  y: Float64Array,
  at: number | null,
): { left: number; change: number; level: number; rss: number; vcov: Float64Array } {
  const { level, levels, centred, centredSquare, block, blocks, blockSize } = design;
  const hinge = Float64Array.from(level, (l) => (at === null ? 0 : Math.max(levels[l] - at, 0)));
  const hingeRest = project(hinge, design);
  const yRest = project(y, design);
  const dot = (a: Float64Array, b: Float64Array) => a.reduce((sum, value, i) => sum + value * b[i], 0);
  const change = at === null ? 0 : dot(hingeRest, yRest) / sumOfSquares(hingeRest);
  const left =
    dot(
      centred,
      y.map((value, i) => value - change * hinge[i]),
    ) / centredSquare;
  let rss = 0;
  yRest.forEach((value, i) => {
    rss += square(value - change * hingeRest[i]);
  });
  // Mean over blocks of the block levels.
  let averageLevel = 0;
  y.forEach((value, i) => {
    averageLevel += (value - left * levels[level[i]] - change * hinge[i]) / (blockSize[block[i]] * blocks);
  });
  if (at === null) return { left, change, level: averageLevel, rss, vcov: Float64Array.of(1 / centredSquare) };
  const step = Float64Array.from(level, (l) => (levels[l] > at ? -change : 0));
  const columns = [Float64Array.from(level, (l) => levels[l]), hinge, step].map((column) => centreOnly(column, design));
  const information = Float64Array.from({ length: 9 }, (_, k) => dot(columns[Math.floor(k / 3)], columns[k % 3]));
  return { left, change, level: averageLevel, rss, vcov: inverseSymmetric(information, 3) ?? new Float64Array(0) };
}

function centreOnly(v: Float64Array, { block, blocks, blockSize }: BrokenLineDesign): Float64Array {
  const mean = new Float64Array(blocks);
  v.forEach((value, i) => {
    mean[block[i]] += value / blockSize[block[i]];
  });
  return v.map((value, i) => value - mean[block[i]]);
}
