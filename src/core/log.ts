import { LN2 } from "./exp.ts";
import { highWord, powerOfTwo } from "./powersOfTwo.ts";
import { over, plus, productError, sumError, type Twofold, times } from "./twofold.ts";

// ln(2^k m) = k ln 2 - ln c + ln(1 + r), r = c m - 1, where c is 1 / m to seven bits. c has 17 bits and m is cut in two, so
// that r is known exactly; every leading part is a multiple of 2^-42, so that their sum is exact as well.

const GRID = 4398046511104; // 2^42
const LN2_HIGH = Math.round(LN2[0] * GRID) / GRID;
const LN2_LOW = LN2[0] - LN2_HIGH + LN2[1];
/** Adding and taking away 1.5 * 2^26 rounds to a multiple of 2^-26. */
const HALF = 100663296;

const FIRST = 90; // m from sqrt(1/2) to sqrt(2), in steps of 1 / 128
const NODES = 92;
const INVERSE = /* @__PURE__ */ new Float64Array(NODES);
const NODE = /* @__PURE__ */ new Float64Array(NODES);
const NODE_LOW = /* @__PURE__ */ fillNodes();

/** c near 128 / j, and - ln c = -2 artanh((c - 1) / (c + 1)) as a multiple of 2^-42 and a rest; returns the rests. */
function fillNodes(): Float64Array {
  const low = new Float64Array(NODES);
  for (let i = 0; i < NODES; i++) {
    const c = Math.round((128 / (i + FIRST)) * 65536) / 65536;
    INVERSE[i] = c;
    const u = over([c - 1, 0], [c + 1, 0]);
    const square = times(u, u);
    let term = u;
    let sum: Twofold = [0, 0];
    for (let n = 1; n < 50; n += 2) {
      sum = plus(sum, over(term, [n, 0]));
      term = times(term, square);
    }
    NODE[i] = Math.round(-2 * sum[0] * GRID) / GRID;
    low[i] = -2 * sum[0] - NODE[i] - 2 * sum[1];
  }
  return low;
}

/** ln(1 + r) - r for |r| < 0.006. */
function bend(r: number): number {
  return r * r * (-0.5 + r * (1 / 3 + r * (-0.25 + r * (0.2 + r * (-1 / 6 + r * (1 / 7))))));
}

/** ln(x 2^extra) + low for a normal x > 0. */
function logOf(x: number, extra: number, low: number): number {
  const k = (highWord(x) - 0x3fe6a09e) >> 20;
  const m = x * powerOfTwo(-k);
  const i = ((m * 128 + 0.5) | 0) - FIRST;
  const head = m + HALF - HALF;
  const r = head * INVERSE[i] - 1;
  const rest = (m - head) * INVERSE[i];
  const n = k + extra;
  return n * LN2_HIGH + NODE[i] + r + (rest + (n * LN2_LOW + NODE_LOW[i] + low + bend(r + rest)));
}

/** Natural logarithm. */
export function log(x: number): number {
  if (x >= 2.2250738585072014e-308 && x < Infinity) return logOf(x, 0, 0);
  if (!(x > 0)) return x === 0 ? -Infinity : Number.NaN;
  return x === Infinity ? x : logOf(x * powerOfTwo(54), -54, 0);
}

/** ln(1 + x), with all its digits near 0. */
export function log1p(x: number): number {
  if (x > -0.0039 && x < 0.0039) return x + bend(x);
  if (!(x > -1 && x < Infinity)) return x === -1 ? -Infinity : x > 0 ? x : Number.NaN;
  const u = 1 + x;
  return logOf(u, 0, sumError(1, x, u) / u);
}

const tail = /* @__PURE__ */ new Float64Array(1);

/** ln x in twofold precision for 0 < x < Infinity: returns the leading part; `logTail()` is the rest. */
export function logHead(x: number): number {
  const tiny = x < 2.2250738585072014e-308;
  const y = tiny ? x * powerOfTwo(54) : x;
  const k = (highWord(y) - 0x3fe6a09e) >> 20;
  const m = y * powerOfTwo(-k);
  const i = ((m * 128 + 0.5) | 0) - FIRST;
  const head = m + HALF - HALF;
  const first = head * INVERSE[i] - 1;
  const rest = (m - head) * INVERSE[i];
  const n = tiny ? k - 54 : k;
  // ln(1 + r) = r - r^2 / 2 + r^3 / 3 - ..., the square with its rounding error
  const r = first + rest;
  const half = 0.5 * r;
  const square = half * r;
  const lost = productError(half, r, square) + half * 2 * (first - r + rest);
  const cubic = r * r * r * (1 / 3 + r * (-0.25 + r * (0.2 + r * (-1 / 6 + r * (1 / 7 + r * (-0.125 + r * (1 / 9)))))));
  const lead = n * LN2_HIGH + NODE[i] + first;
  const upper = lead - square;
  const low = sumError(lead, -square, upper) + (rest + (n * LN2_LOW + NODE_LOW[i] + (cubic - lost)));
  const sum = upper + low;
  tail[0] = sumError(upper, low, sum);
  return sum;
}

export function logTail(): number {
  return tail[0];
}

const PER_LN2: Twofold = [Math.LOG2E, 2.0355273740931033e-17];
const PER_LN10: Twofold = [Math.LOG10E, 1.098319650216765e-17];

function logIn(x: number, unit: Twofold): number {
  if (!(x > 0 && x < Infinity)) return log(x);
  const head = logHead(x);
  const product = head * unit[0];
  return product + (productError(head, unit[0], product) + (head * unit[1] + logTail() * unit[0]));
}

/** Logarithm to base 2; exact for powers of two. */
export function log2(x: number): number {
  return logIn(x, PER_LN2);
}

/** Logarithm to base 10; exact for powers of ten. */
export function log10(x: number): number {
  return logIn(x, PER_LN10);
}
