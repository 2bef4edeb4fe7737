const SPLIT = 134217729; // 2^27 + 1

/**
 * start + sum of a[i] b[i], as if computed with twice the working precision and then rounded.
 *
 * Source: Ogita, Rump & Oishi (2005), SIAM Journal on Scientific Computing 26(6), 1955-1988, algorithm Dot2; the product is
 * split after Dekker (1971).
 */
export function dot2(a: ArrayLike<number>, b: ArrayLike<number>, start = 0): number {
  let high = start;
  let low = 0;
  for (let i = 0; i < a.length; i++) {
    const x = a[i];
    const y = b[i];
    const product = x * y;
    let t = SPLIT * x;
    const xh = t - (t - x);
    const xl = x - xh;
    t = SPLIT * y;
    const yh = t - (t - y);
    const yl = y - yh;
    const productError = xl * yl - (product - xh * yh - xl * yh - xh * yl);
    const sum = high + product;
    t = sum - high;
    low += high - (sum - t) + (product - t) + productError;
    high = sum;
  }
  return high + low;
}

/** Sum of values, as if with twice the working precision. */
export function sum2(values: ArrayLike<number>): number {
  let high = 0;
  let low = 0;
  for (let i = 0; i < values.length; i++) {
    const sum = high + values[i];
    const t = sum - high;
    low += high - (sum - t) + (values[i] - t);
    high = sum;
  }
  return high + low;
}
