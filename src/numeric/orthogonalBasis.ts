import { square } from "../core/elementary.ts";
import { dot } from "./matrix.ts";

/**
 * Extends an orthonormal basis by the part of some columns that it does not yet span.
 *
 * Gram-Schmidt, done twice for full digits; a column whose remainder is below 1e-8 of its length adds nothing.
 *
 * @param basis - orthonormal vectors, each [n]; not changed
 * @param columns - each [n]; not changed
 * @returns the new orthonormal vectors only
 *
 * Source: Bjorck (1996), Numerical Methods for Least Squares Problems, section 2.4.5.
 */
export function extendBasis(basis: readonly Float64Array[], columns: readonly Float64Array[]): Float64Array[] {
  const added: Float64Array[] = [];
  for (const column of columns) {
    const length = Math.sqrt(dot(column, column));
    if (length === 0) continue;
    const rest = column.slice();
    for (let pass = 0; pass < 2; pass++) {
      for (const q of basis) removeAlong(rest, q);
      for (const q of added) removeAlong(rest, q);
    }
    const left = Math.sqrt(dot(rest, rest));
    if (left <= 1e-8 * length) continue;
    added.push(rest.map((v) => v / left));
  }
  return added;
}

function removeAlong(v: Float64Array, q: Float64Array): void {
  const along = dot(v, q);
  if (along !== 0) for (let i = 0; i < v.length; i++) v[i] -= along * q[i];
}

/** Squared length of the projection of y on orthonormal vectors. */
export function projectedSquares(basis: readonly Float64Array[], y: Float64Array): number {
  let sum = 0;
  for (const q of basis) sum += square(dot(q, y));
  return sum;
}
