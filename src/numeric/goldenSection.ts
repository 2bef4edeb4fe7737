const RATIO = (Math.sqrt(5) - 1) / 2;

/**
 * Golden-section search for the maximum of a function with one peak between two points. The better of the two inner points is
 * always kept, so `best` is also the largest value seen.
 *
 * @param f - the function
 * @param low - one end
 * @param high - the other, >= low
 * @param steps - narrowings at most; each leaves 0.618 of the bracket
 * @param width - bracket at which to stop earlier, in the unit of x; default 0
 * @param enough - a value with which to stop earlier; default: none
 * @returns the middle of the last bracket, and the largest value seen
 * @example
 * Math.abs(goldenSection((x) => -((x - 2) ** 2), 0, 5, 60).middle - 2) < 1e-7; // => true
 *
 * Source: Kiefer (1953), Proceedings of the American Mathematical Society 4, 502-506.
 */
export function goldenSection(
  f: (x: number) => number,
  low: number,
  high: number,
  steps: number,
  width = 0,
  enough: number = Number.POSITIVE_INFINITY,
): { readonly middle: number; readonly best: number } {
  let a = low;
  let b = high;
  let left = b - RATIO * (b - a);
  let right = a + RATIO * (b - a);
  let atLeft = f(left);
  let atRight = f(right);
  let best = Math.max(atLeft, atRight);
  for (let i = 0; i < steps && b - a > width && best < enough; i++) {
    if (atLeft >= atRight) {
      b = right;
      right = left;
      atRight = atLeft;
      left = b - RATIO * (b - a);
      atLeft = f(left);
    } else {
      a = left;
      left = right;
      atLeft = atRight;
      right = a + RATIO * (b - a);
      atRight = f(right);
    }
    best = Math.max(best, atLeft, atRight);
  }
  return { middle: (a + b) / 2, best };
}
