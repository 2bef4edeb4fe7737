import { powerOfTwo } from "./powersOfTwo.ts";

/**
 * sqrt(x^2 + y^2) without overflow or underflow on the way.
 *
 * Source: Borges (2020), An improved algorithm for hypot(a, b), ACM TOMS 47(1), article 9: the root is corrected by its residual.
 */
export function hypot(x: number, y: number): number {
  const a = Math.max(Math.abs(x), Math.abs(y));
  const b = Math.min(Math.abs(x), Math.abs(y));
  if (Math.abs(x) === Infinity || Math.abs(y) === Infinity) return Infinity;
  if (!(b > a * 1e-17)) return a + b;
  if (a > 1e150) return rootOfSquares(a * powerOfTwo(-600), b * powerOfTwo(-600)) * powerOfTwo(600);
  if (b < 1e-130) return rootOfSquares(a * powerOfTwo(600), b * powerOfTwo(600)) * powerOfTwo(-600);
  return rootOfSquares(a, b);
}

function rootOfSquares(a: number, b: number): number {
  const h = Math.sqrt(a * a + b * b);
  let residual: number;
  if (h <= 2 * b) {
    const delta = h - b;
    residual = a * (2 * delta - a) + (delta - 2 * (a - b)) * delta;
  } else {
    const delta = h - a;
    residual = 2 * delta * (a - 2 * b) + (4 * delta - b) * b + delta * delta;
  }
  return h - residual / (2 * h);
}
