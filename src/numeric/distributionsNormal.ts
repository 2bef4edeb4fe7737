import { exp, log } from "../core/elementary.ts";
import { check } from "../core/errors.ts";

const INVERSE_SQRT_2PI = 0.3989422804014327;

/**
 * Density of the standard normal distribution, exp(-z^2 / 2) / sqrt(2 pi).
 *
 * @param z - any number
 */
export function normalDensity(z: number): number {
  return INVERSE_SQRT_2PI * gaussian(z);
}

/**
 * Probability that a standard normal variable is at most `z`; the far lower tail keeps its digits (to about -37.5).
 *
 * @param z - a number; infinities give 0 and 1
 * @throws AnalysisError `invalid-option` when z is NaN
 * @example
 * normalCdf(1.959963984540054); // => 0.975
 *
 * Source: Cody (1993), Algorithm 715, ACM Transactions on Mathematical Software 19(1), 22-32, function ANORM.
 * Oracle: test/oracle/distributions.json.
 */
export function normalCdf(z: number): number {
  check(!Number.isNaN(z), "invalid-option", `z must be a number, got ${z}`);
  return z <= 0 ? normalTail(-z) : Math.abs(z) <= SMALL ? 0.5 + normalCentre(z) : 1 - normalTail(z);
}

/** Probability that a standard normal variable exceeds `z`; never a difference from 1 in the far tail. See `normalCdf`. */
export function normalUpper(z: number): number {
  return normalCdf(-z);
}

const SMALL = 0.67448975;
const LARGE = 5.656854249492381; // sqrt(32)

const A = [2.2352520354606837, 161.02823106855587, 1067.6894854603709, 18154.98125334356, 0.06568233791820745];
const B = [47.202581904688245, 976.0985517377767, 10260.932208618979, 45507.78933502673];
const C = [
  0.39894151208813466, 8.883149794388377, 93.50665613217785, 597.2702763948002, 2494.5375852903726, 6848.190450536283,
  11602.65143764735, 9842.714838383978, 1.0765576773720192e-8,
];
const D = [
  22.266688044328117, 235.387901782625, 1519.3775994075547, 6485.558298266761, 18615.571640885097, 34900.95272114598,
  38912.00328609327, 19685.429676859992,
];
const P = [
  0.215898534057957, 0.12740116116024736, 0.022235277870649807, 0.0014216191932278934, 0.000029112874951168793,
  0.023073441764940174,
];
const Q = [1.284260096144911, 0.4682382124808651, 0.06598813786892856, 0.0037823963320275824, 0.00007297515550839662];

/** Phi(z) - 1/2 for |z| <= 0.674. */
function normalCentre(z: number): number {
  const s = z * z;
  let top = A[4] * s;
  let bottom = s;
  for (let i = 0; i < 3; i++) {
    top = (top + A[i]) * s;
    bottom = (bottom + B[i]) * s;
  }
  return (z * (top + A[3])) / (bottom + B[3]);
}

/** Upper tail for z >= 0. */
function normalTail(z: number): number {
  if (z <= SMALL) return 0.5 - normalCentre(z);
  if (z <= LARGE) {
    let top = C[8] * z;
    let bottom = z;
    for (let i = 0; i < 7; i++) {
      top = (top + C[i]) * z;
      bottom = (bottom + D[i]) * z;
    }
    return (gaussian(z) * (top + C[7])) / (bottom + D[7]);
  }
  if (z > 38.6) return 0; // below the smallest double
  const s = 1 / (z * z);
  let top = P[5] * s;
  let bottom = s;
  for (let i = 0; i < 4; i++) {
    top = (top + P[i]) * s;
    bottom = (bottom + Q[i]) * s;
  }
  return (gaussian(z) * (INVERSE_SQRT_2PI - (s * (top + P[4])) / (bottom + Q[4]))) / z;
}

/** exp(-z^2 / 2) with z split on sixteenths, so that squaring does not cost the far tail its digits. */
function gaussian(z: number): number {
  const head = Math.trunc(z * 16) / 16;
  return exp(-head * head * 0.5) * exp(-(z - head) * (z + head) * 0.5);
}

const WICHURA_A = [
  3.3871328727963665, 133.14166789178438, 1971.5909503065513, 13731.69376550946, 45921.95393154987, 67265.7709270087,
  33430.57558358813, 2509.0809287301227,
];
const WICHURA_B = [
  1, 42.31333070160091, 687.1870074920579, 5394.196021424751, 21213.794301586597, 39307.89580009271, 28729.085735721943,
  5226.495278852854,
];
const WICHURA_C = [
  1.4234371107496835, 4.630337846156546, 5.769497221460691, 3.6478483247632045, 1.2704582524523684, 0.2417807251774506,
  0.022723844989269184, 0.0007745450142783414,
];
const WICHURA_D = [
  1, 2.053191626637759, 1.6763848301838038, 0.6897673349851, 0.14810397642748008, 0.015198666563616457,
  0.0005475938084995345, 1.0507500716444169e-9,
];
const WICHURA_E = [
  6.657904643501103, 5.463784911164114, 1.7848265399172913, 0.29656057182850487, 0.026532189526576124,
  0.0012426609473880784, 0.000027115555687434876, 2.0103343992922881e-7,
];
const WICHURA_F = [
  1, 0.599832206555888, 0.1369298809227358, 0.014875361290850615, 0.0007868691311456133, 0.000018463183175100548,
  1.421511758316446e-7, 2.0442631033899397e-15,
];

function polynomial(coefficients: readonly number[], x: number): number {
  let value = 0;
  for (let i = coefficients.length - 1; i >= 0; i--) value = value * x + coefficients[i];
  return value;
}

/**
 * The z below which a standard normal variable falls with probability `p`.
 *
 * @param p - probability, 0 < p < 1
 * @throws AnalysisError `invalid-option` when p is outside (0, 1)
 * @example
 * normalQuantile(0.975); // => 1.9599639845400545
 *
 * Source: Wichura (1988), Algorithm AS 241 (PPND16), Applied Statistics 37(3), 477-484.
 */
export function normalQuantile(p: number): number {
  check(p > 0 && p < 1, "invalid-option", `p must be between 0 and 1, got ${p}`);
  const q = p - 0.5;
  if (Math.abs(q) <= 0.425) {
    const r = 0.180625 - q * q;
    return (q * polynomial(WICHURA_A, r)) / polynomial(WICHURA_B, r);
  }
  const r = Math.sqrt(-log(q < 0 ? p : 1 - p));
  const z =
    r <= 5
      ? polynomial(WICHURA_C, r - 1.6) / polynomial(WICHURA_D, r - 1.6)
      : polynomial(WICHURA_E, r - 5) / polynomial(WICHURA_F, r - 5);
  return q < 0 ? -z : z;
}
