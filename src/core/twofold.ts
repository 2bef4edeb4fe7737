/** A number held as the sum of two doubles, the second below the last place of the first: about 106 bits. */
export type Twofold = readonly [number, number];

const SPLIT = 134217729; // 2^27 + 1

/** What rounding took from the sum: a + b = (a + b) + sumError(a, b, a + b), exactly. Source: Knuth, TAOCP 2, 4.2.2, theorem B. */
export function sumError(a: number, b: number, sum: number): number {
  const t = sum - a;
  return a - (sum - t) + (b - t);
}

/**
 * What rounding took from the product: a b = product + productError(a, b, product), exactly, between about 1e-290 and 1e300.
 *
 * Source: Dekker (1971), Numerische Mathematik 18, 224-242.
 */
export function productError(a: number, b: number, product: number): number {
  let t = SPLIT * a;
  const ah = t - (t - a);
  const al = a - ah;
  t = SPLIT * b;
  const bh = t - (t - b);
  const bl = b - bh;
  return al * bl - (product - ah * bh - al * bh - ah * bl);
}

function normalised(high: number, low: number): Twofold {
  const sum = high + low;
  return [sum, high - sum + low];
}

export function plus(a: Twofold, b: Twofold): Twofold {
  const sum = a[0] + b[0];
  return normalised(sum, sumError(a[0], b[0], sum) + (a[1] + b[1]));
}

export function times(a: Twofold, b: Twofold): Twofold {
  const product = a[0] * b[0];
  return normalised(product, productError(a[0], b[0], product) + (a[0] * b[1] + a[1] * b[0]));
}

export function over(a: Twofold, b: Twofold): Twofold {
  const first = a[0] / b[0];
  const rest = plus(a, times([-first, 0], b));
  return normalised(first, rest[0] / b[0]);
}
