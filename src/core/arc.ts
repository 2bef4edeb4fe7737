import { highWord, powerOfTwo } from "./powersOfTwo.ts";
import { over, plus, productError, sumError, type Twofold, times } from "./twofold.ts";

// arctan(y / x) = arctan(c) + arctan((y - c x) / (x + c y)) with c the nearest sixteenth: the second angle is below 1/32.

const HALF_PI: Twofold = [1.5707963267948966, 6.123233995736766e-17];
const NODES = 17;
const NODE: readonly Twofold[] = /* @__PURE__ */ fillNodes();

/** arctan(j / 16), each from the one before: the difference is arctan(16 / (256 + j (j - 1))). */
function fillNodes(): Twofold[] {
  const nodes: Twofold[] = [[0, 0]];
  for (let j = 1; j < NODES; j++) {
    const u = over([16, 0], [256 + j * (j - 1), 0]);
    const square = times(u, u);
    let term = u;
    let sum: Twofold = [0, 0];
    for (let n = 1; n < 34; n += 2) {
      sum = plus(sum, over(term, [n % 4 === 1 ? n : -n, 0]));
      term = times(term, square);
    }
    nodes.push(plus(nodes[j - 1], sum));
  }
  return nodes;
}

/** base + sign * angle of the point (x, y), 0 <= y <= x up to the rounding of both, x > 0. */
function smallAngle(y: Twofold, x: Twofold, base: Twofold, sign: number): number {
  const j = Math.round((16 * y[0]) / x[0]);
  const c = j / 16;
  const top = plus(y, [-c * x[0], -productError(c, x[0], c * x[0]) - c * x[1]]);
  const bottom = plus(x, [c * y[0], productError(c, y[0], c * y[0]) + c * y[1]]);
  const t = over(top, bottom);
  const z = t[0] * t[0];
  const bend = t[0] * z * (-1 / 3 + z * (1 / 5 + z * (-1 / 7 + z * (1 / 9 + z * (-1 / 11 + z * (1 / 13))))));
  const [node, nodeLow] = NODE[j];
  const first = base[0] + sign * node;
  const second = first + sign * t[0];
  const lost = sumError(base[0], sign * node, first) + sumError(first, sign * t[0], second);
  return second + (lost + (base[1] + sign * (nodeLow + t[1] + bend)));
}

const NOTHING: Twofold = [0, 0];

/** Angle of a point of the right half-plane or its edge, 0 to pi / 2, for coordinates >= 0 not both 0. */
function quadrantAngle(y: Twofold, x: Twofold): number {
  return y[0] <= x[0] ? smallAngle(y, x, NOTHING, 1) : smallAngle(x, y, HALF_PI, -1);
}

/** Angle in radians whose tangent is x. */
export function atan(x: number): number {
  const size = Math.abs(x);
  // NaN, and where x - x^3 / 3 is x
  if (!(size > 1e-9)) return x;
  const angle = size > 1e18 ? HALF_PI[0] : quadrantAngle([size, 0], [1, 0]);
  return x < 0 ? -angle : angle;
}

/** Angle in radians of the point (x, y), from -pi to pi. */
export function atan2(y: number, x: number): number {
  if (Number.isNaN(x) || Number.isNaN(y)) return Number.NaN;
  const angle = upperAngle(Math.abs(y), x);
  return y < 0 || Object.is(y, -0) ? -angle : angle;
}

/** `atan2` for y >= 0. */
function upperAngle(y: number, x: number): number {
  const left = x < 0 || Object.is(x, -0);
  const size = Math.abs(x);
  if (y === 0) return left ? Math.PI : 0;
  if (y === Infinity) return size === Infinity ? (left ? 2.356194490192345 : 0.7853981633974483) : HALF_PI[0];
  if (size === Infinity) return left ? Math.PI : 0;
  const ratio = y / size;
  if (ratio > 1e18) return HALF_PI[0];
  if (ratio < 1e-18) return left ? Math.PI : ratio;
  // both near 1, so that no product leaves the range
  const largest = Math.max(y, size);
  const lift = largest < 1e-200 ? powerOfTwo(600) : 1;
  const scale = powerOfTwo(Math.min(1000, 1023 - (highWord(largest * lift) >> 20)));
  const b: Twofold = [y * lift * scale, 0];
  const a: Twofold = [size * lift * scale, 0];
  if (!left) return quadrantAngle(b, a);
  return b[0] <= a[0] ? smallAngle(b, a, [2 * HALF_PI[0], 2 * HALF_PI[1]], -1) : smallAngle(a, b, HALF_PI, 1);
}

/** sqrt(1 - x^2) in twofold precision, |x| < 1. */
function otherSide(x: number): Twofold {
  const square = x * x;
  const rest = plus([1, 0], [-square, -productError(x, x, square)]);
  const root = Math.sqrt(rest[0]);
  const back = root * root;
  return [root, (rest[0] - back - productError(root, root, back) + rest[1]) / (2 * root)];
}

/** Angle in radians whose sine is x, from -pi/2 to pi/2. */
export function asin(x: number): number {
  const size = Math.abs(x);
  if (size > 1) return Number.NaN;
  if (!(size > 1e-9)) return x;
  const angle = size === 1 ? HALF_PI[0] : quadrantAngle([size, 0], otherSide(size));
  return x < 0 ? -angle : angle;
}

/** Angle in radians whose cosine is x, from 0 to pi. */
export function acos(x: number): number {
  const size = Math.abs(x);
  if (!(size <= 1)) return Number.NaN;
  if (size === 1) return x > 0 ? 0 : Math.PI;
  if (size < 1e-17) return HALF_PI[0];
  const side = otherSide(size);
  if (x > 0) return quadrantAngle(side, [size, 0]);
  const near = side[0] <= size;
  return near
    ? smallAngle(side, [size, 0], [2 * HALF_PI[0], 2 * HALF_PI[1]], -1)
    : smallAngle([size, 0], side, HALF_PI, 1);
}
