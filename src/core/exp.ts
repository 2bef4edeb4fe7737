import { scaled } from "./powersOfTwo.ts";
import { over, plus, type Twofold, times } from "./twofold.ts";

// exp(x) = 2^m 2^(j / 128) exp(r) with x = (m + j / 128) ln 2 + r, |r| <= ln 2 / 256.

/** ln 2 as a sum of two doubles. */
export const LN2: Twofold = [Math.LN2, 2.3190468138462996e-17];
const NODES = 128;
const PER_UNIT = 184.6649652337873; // 128 / ln 2
/** Adding and taking away 1.5 * 2^52 rounds to a whole number. */
const WHOLE = 6755399441055744;
/** ln 2 / 128 in two parts, the first a multiple of 2^-42, so that its product with up to 18 bits is exact. */
const STEP_HIGH = 23816355775 / 4398046511104;
const STEP_LOW = LN2[0] / NODES - STEP_HIGH + LN2[1] / NODES;

const ROOT = /* @__PURE__ */ new Float64Array(NODES);
const ROOT_LOW = /* @__PURE__ */ fillRoots();

/** 2^(j / 128) by its Taylor series in twofold precision; returns the lower parts. */
function fillRoots(): Float64Array {
  const low = new Float64Array(NODES);
  for (let j = 0; j < NODES; j++) {
    const u = times(LN2, [j / NODES, 0]);
    let sum: Twofold = [1, 0];
    let term: Twofold = [1, 0];
    for (let i = 1; i < 30; i++) {
      term = over(times(term, u), [i, 0]);
      sum = plus(sum, term);
    }
    ROOT[j] = sum[0];
    low[j] = sum[1];
  }
  return low;
}

/** e^x. */
export function exp(x: number): number {
  if (!(x > -700 && x < 700)) return expOfSum(x, 0);
  const k = x * PER_UNIT + WHOLE - WHOLE;
  const r = x - k * STEP_HIGH - k * STEP_LOW;
  const p = r + r * r * (0.5 + r * (1 / 6 + r * (1 / 24 + r * (1 / 120))));
  const root = ROOT[k & 127];
  return scaled(root + (ROOT_LOW[k & 127] + root * p), k >> 7);
}

/** e^(x + low), `low` small beside x: for powers, whose exponent needs more than a double. */
export function expOfSum(x: number, low: number): number {
  if (Number.isNaN(x)) return x;
  if (x > 709.8) return Infinity;
  if (x < -745.2) return 0;
  const k = x * PER_UNIT + WHOLE - WHOLE;
  const r = x - k * STEP_HIGH - (k * STEP_LOW - low);
  const p = r + r * r * (0.5 + r * (1 / 6 + r * (1 / 24 + r * (1 / 120))));
  const root = ROOT[k & 127];
  return scaled(root + (ROOT_LOW[k & 127] + root * p), k >> 7);
}

/** e^x - 1, with all its digits near 0. */
export function expm1(x: number): number {
  if (Math.abs(x) < 1e-18) return x;
  if (x > -0.25 && x < 0.25) {
    let tail = 0;
    for (let i = 13; i >= 4; i--) tail = (1 + tail) * (x / i);
    return x + x * x * (0.5 + (x / 6) * (1 + tail));
  }
  if (!(x > -40 && x < 700)) return exp(x) - 1;
  const k = x * PER_UNIT + WHOLE - WHOLE;
  const r = x - k * STEP_HIGH - k * STEP_LOW;
  const p = r + r * r * (0.5 + r * (1 / 6 + r * (1 / 24 + r * (1 / 120))));
  const root = scaled(ROOT[k & 127], k >> 7);
  const rest = scaled(ROOT_LOW[k & 127] + ROOT[k & 127] * p, k >> 7);
  // root - 1 and what its rounding loses
  const head = root - 1;
  const lost = root > 2 ? root - head - 1 : root - (head + 1);
  return head + (lost + rest);
}
