/**
 * Every root of a polynomial of degree <= 4 inside (0, 1), none missed, none invented.
 *
 * The polynomial is held by its Bernstein coefficients on [0, 1]. By the variation-diminishing property the number of
 * sign changes among them bounds the number of roots inside from above and has the same parity: no change, no root; one
 * change, exactly one root, which a bracketing iteration finds. Anything else is cut at the midpoint (de Casteljau) and
 * asked again. Looking for sign changes of the polynomial on a few points would miss close pairs.
 *
 * Source: Farouki & Rajan (1987), Computer Aided Geometric Design 4, 191-216; Farin, Curves and Surfaces for CAGD, ch. 5.
 */

/** Halvings after which a cluster counts as one root: 2^-52 is the resolution of the interval. */
const MAX_DEPTH = 52;
const BINOMIAL = [[1], [1, 1], [1, 2, 1], [1, 3, 3, 1], [1, 4, 6, 4, 1]];

/**
 * Bernstein coefficients on [0, 1] of the polynomial sum a_i t^i.
 *
 * @param power - coefficients a_0 … a_degree; shape [degree + 1]
 * @param degree - 0 … 4
 * @param out - receives b_j = sum_{i <= j} C(j, i) / C(degree, i) a_i; shape [degree + 1]
 */
export function toBernstein(power: ArrayLike<number>, degree: number, out: Float64Array): void {
  const choose = BINOMIAL[degree];
  for (let j = 0; j <= degree; j++) {
    let sum = 0;
    for (let i = 0; i <= j; i++) sum += (BINOMIAL[j][i] / choose[i]) * power[i];
    out[j] = sum;
  }
}

/** Value at t of the polynomial with these Bernstein coefficients (de Casteljau, stable on [0, 1]). */
export function evaluateBernstein(bernstein: ArrayLike<number>, degree: number, t: number): number {
  const row = [0, 0, 0, 0, 0];
  for (let j = 0; j <= degree; j++) row[j] = bernstein[j];
  for (let r = degree; r > 0; r--) for (let j = 0; j < r; j++) row[j] += t * (row[j + 1] - row[j]);
  return row[0];
}

function signChanges(b: ArrayLike<number>, degree: number): number {
  let changes = 0;
  let previous = 0;
  for (let j = 0; j <= degree; j++) {
    const sign = b[j] > 0 ? 1 : b[j] < 0 ? -1 : 0;
    if (sign !== 0 && previous !== 0 && sign !== previous) changes++;
    if (sign !== 0) previous = sign;
  }
  return changes;
}

/** The one root of a polynomial whose Bernstein coefficients change sign once: false position with the Illinois rule. */
function singleRoot(b: ArrayLike<number>, degree: number): number {
  let low = 0;
  let high = 1;
  // A zero at an end is that end's own root, not the one looked for: the nearest coefficient that is not zero stands in.
  let atLow = firstNonZero(b, 0, degree, 1);
  let atHigh = firstNonZero(b, degree, 0, -1);
  let side = 0;
  for (let i = 0; i < 200; i++) {
    // Every third step halves, so that a flat side cannot stall the search.
    const t = i % 3 === 2 ? (low + high) / 2 : (low * atHigh - high * atLow) / (atHigh - atLow);
    const middle = t > low && t < high ? t : (low + high) / 2;
    if (middle <= low || middle >= high) return middle;
    const value = evaluateBernstein(b, degree, middle);
    if (value === 0) return middle;
    if (value > 0 === atHigh > 0) {
      high = middle;
      atHigh = value;
      if (side === 1) atLow /= 2;
      side = 1;
    } else {
      low = middle;
      atLow = value;
      if (side === -1) atHigh /= 2;
      side = -1;
    }
    if (high - low <= 1e-16) break;
  }
  return (low + high) / 2;
}

function firstNonZero(b: ArrayLike<number>, from: number, to: number, step: number): number {
  for (let j = from; j !== to + step; j += step) if (b[j] !== 0) return b[j];
  return 0;
}

/**
 * Roots in (0, 1) in ascending order.
 *
 * @param bernstein - Bernstein coefficients on [0, 1]; shape [degree + 1]; not all zero
 * @param degree - 1 … 4
 * @param out - receives the roots; shape [>= degree]
 * @returns how many were found; a double root counts once, an identically zero polynomial has none
 * @example
 * const roots = new Float64Array(2);
 * const b = new Float64Array(3);
 * toBernstein([0.18, -0.9, 1], 2, b); // (t - 0.3)(t - 0.6)
 * rootsInUnitInterval(b, 2, roots); // => 2
 */
export function rootsInUnitInterval(bernstein: ArrayLike<number>, degree: number, out: Float64Array): number {
  let found = 0;

  function visit(b: number[], low: number, width: number, depth: number): void {
    const changes = signChanges(b, degree);
    if (changes === 0 || found >= degree) return;
    if (changes === 1) {
      out[found++] = low + width * singleRoot(b, degree);
      return;
    }
    if (depth === MAX_DEPTH) {
      out[found++] = low + width / 2;
      return;
    }
    const left = new Array<number>(degree + 1);
    const right = b.slice();
    for (let r = 0; r <= degree; r++) {
      left[r] = right[0];
      for (let j = 0; j < degree - r; j++) right[j] = (right[j] + right[j + 1]) / 2;
    }
    visit(left, low, width / 2, depth + 1);
    if (right[0] === 0 && found < degree) out[found++] = low + width / 2;
    visit(right, low + width / 2, width / 2, depth + 1);
  }

  const top = Array.from({ length: degree + 1 }, (_, j) => bernstein[j]);
  visit(top, 0, 1, 0);
  return found;
}
