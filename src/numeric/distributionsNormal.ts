import { check } from "../core/errors.ts";

const INVERSE_SQRT_2PI = 0.398942280401432677939946;

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
const LARGE = 5.656854249492380195; // sqrt(32)

const A = [
  2.2352520354606839287, 161.02823106855587881, 1067.6894854603709582, 18154.981253343561249, 0.065682337918207449113,
];
const B = [47.20258190468824187, 976.09855173777669322, 10260.932208618978205, 45507.789335026729956];
const C = [
  0.39894151208813466764, 8.8831497943883759412, 93.506656132177855979, 597.27027639480026226, 2494.5375852903726711,
  6848.1904505362823326, 11602.651437647350124, 9842.7148383839780218, 1.0765576773720192317e-8,
];
const D = [
  22.266688044328115691, 235.38790178262499861, 1519.377599407554805, 6485.558298266760755, 18615.571640885098091,
  34900.952721145977266, 38912.003286093271411, 19685.429676859990727,
];
const P = [
  0.21589853405795699, 0.1274011611602473639, 0.022235277870649807, 0.001421619193227893466, 2.9112874951168792e-5,
  0.02307344176494017303,
];
const Q = [
  1.28426009614491121, 0.468238212480865118, 0.0659881378689285515, 0.00378239633202758244, 7.29751555083966205e-5,
];

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
  return Math.exp(-head * head * 0.5) * Math.exp(-(z - head) * (z + head) * 0.5);
}

const WICHURA_A = [
  3.387132872796366608, 133.14166789178437745, 1971.5909503065514427, 13731.693765509461125, 45921.953931549871457,
  67265.770927008700853, 33430.575583588128105, 2509.0809287301226727,
];
const WICHURA_B = [
  1, 42.313330701600911252, 687.1870074920579083, 5394.1960214247511077, 21213.794301586595867, 39307.89580009271061,
  28729.085735721942674, 5226.495278852854561,
];
const WICHURA_C = [
  1.42343711074968357734, 4.6303378461565452959, 5.7694972214606914055, 3.64784832476320460504, 1.27045825245236838258,
  0.24178072517745061177, 0.0227238449892691845833, 7.7454501427834140764e-4,
];
const WICHURA_D = [
  1, 2.05319162663775882187, 1.6763848301838038494, 0.68976733498510000455, 0.14810397642748007459,
  0.0151986665636164571966, 5.475938084995344946e-4, 1.05075007164441684324e-9,
];
const WICHURA_E = [
  6.6579046435011037772, 5.4637849111641143699, 1.7848265399172913358, 0.29656057182850489123, 0.026532189526576123093,
  0.0012426609473880784386, 2.71155556874348757815e-5, 2.01033439929228813265e-7,
];
const WICHURA_F = [
  1, 0.59983220655588793769, 0.13692988092273580531, 0.0148753612908506148525, 7.868691311456132591e-4,
  1.8463183175100546818e-5, 1.4215117583164458887e-7, 2.04426310338993978564e-15,
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
  const r = Math.sqrt(-Math.log(q < 0 ? p : 1 - p));
  const z =
    r <= 5
      ? polynomial(WICHURA_C, r - 1.6) / polynomial(WICHURA_D, r - 1.6)
      : polynomial(WICHURA_E, r - 5) / polynomial(WICHURA_F, r - 5);
  return q < 0 ? -z : z;
}
