import { powerOfTwo } from "./powersOfTwo.ts";
import { sumError } from "./twofold.ts";

// Cody & Waite (1980), Software Manual for the Elementary Functions: the nearest multiple of pi / 2 is taken away in three parts;
// Taylor series do the rest. Arguments that are huge, or all but a multiple of pi / 2, are reduced in whole numbers.

/** pi / 2 in parts of 33, 33 and 53 bits: a product of the first two with 20 bits is exact. */
const PART1 = 1.5707963267341256;
const PART2 = 6.077100506303966e-11;
const PART3 = 2.0222662487959506e-21;

/** An angle from -pi/4 to pi/4 as a sum of two doubles, and the quarter turns taken away, 0 to 3. */
type Reduced = readonly [number, number, number];

function reduce(x: number): Reduced {
  if (Math.abs(x) <= 0.7853981633974483) return [x, 0, 0];
  if (!(Math.abs(x) < 1e6)) return reduceExactly(x);
  const n = Math.round(x / (Math.PI / 2));
  const first = x - n * PART1;
  const sum = first - n * PART2;
  const low = sumError(first, -n * PART2, sum) - n * PART3;
  const high = sum + low;
  return Math.abs(high) < 1e-9 ? reduceExactly(x) : [high, sum - high + low, n & 3];
}

const PLACES = 1300;
let quarterTurn: bigint | undefined;

/** pi / 2 times 2^PLACES, by Machin's formula pi / 4 = 4 arctan(1/5) - arctan(1/239). */
function quarterTurnInteger(): bigint {
  const one = 1n << BigInt(PLACES + 20);
  const arctanOfInverse = (n: bigint): bigint => {
    let sum = 0n;
    let power = one / n;
    for (let i = 1n; power !== 0n; i += 2n) {
      sum += i % 4n === 1n ? power / i : -(power / i);
      power /= n * n;
    }
    return sum;
  };
  return (2n * (4n * arctanOfInverse(5n) - arctanOfInverse(239n))) >> 20n;
}

function reduceExactly(x: number): Reduced {
  if (!Number.isFinite(x)) return [Number.NaN, 0, 0];
  quarterTurn ??= quarterTurnInteger();
  let exponent = 0;
  let whole = x;
  while (!Number.isInteger(whole)) {
    whole *= 2;
    exponent++;
  }
  const scaled = (BigInt(whole) << BigInt(PLACES)) >> BigInt(exponent);
  const turns = (2n * scaled + quarterTurn) / (2n * quarterTurn) - (2n * scaled + quarterTurn < 0n ? 1n : 0n);
  const rest = (scaled - turns * quarterTurn) >> BigInt(PLACES - 250);
  const high = Number(rest);
  const low = Number(rest - BigInt(high));
  return [high * powerOfTwo(-250), low * powerOfTwo(-250), Number(turns & 3n)];
}

/** sin(x + low), |x| <= pi/4; from x^19 / 19! on the terms are below the last place. */
function sineSeries(x: number, low: number): number {
  const z = x * x;
  const tail =
    1 / 120 +
    z *
      (-1 / 5040 +
        z * (1 / 362880 + z * (-1 / 39916800 + z * (1 / 6227020800 + z * (-1 / 1307674368000 + z / 355687428096000)))));
  return x + (x * z * (-1 / 6 + z * tail) + low * (1 - 0.5 * z));
}

/** cos(x + low), |x| <= pi/4. */
function cosineSeries(x: number, low: number): number {
  const z = x * x;
  const tail =
    1 / 24 +
    z *
      (-1 / 720 +
        z * (1 / 40320 + z * (-1 / 3628800 + z * (1 / 479001600 + z * (-1 / 87178291200 + z / 20922789888000)))));
  const head = 1 - 0.5 * z;
  return head + (1 - head - 0.5 * z + (z * z * tail - x * low));
}

function turned([x, low]: Reduced, quarter: number): number {
  const value = quarter % 2 === 0 ? sineSeries(x, low) : cosineSeries(x, low);
  return quarter % 4 < 2 ? value : -value;
}

/** Sine of an angle in radians. */
export function sin(x: number): number {
  if (Math.abs(x) < 1e-9) return x;
  const reduced = reduce(x);
  return turned(reduced, reduced[2]);
}

/** Cosine of an angle in radians. */
export function cos(x: number): number {
  const reduced = reduce(x);
  return turned(reduced, reduced[2] + 1);
}
