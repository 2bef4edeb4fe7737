import { expOfSum } from "./exp.ts";
import { logHead, logTail } from "./log.ts";
import { productError } from "./twofold.ts";

/**
 * x to the power y, the operator for powers of the language with its special cases: exp(y ln x), the product in twofold
 * precision. Powers that a double holds exactly come out exact.
 */
export function pow(x: number, y: number): number {
  if (y === 0) return 1;
  if (y === 1) return x;
  if (y === 2) return x * x;
  if (Number.isNaN(x) || Number.isNaN(y)) return Number.NaN;
  const size = Math.abs(x);
  const odd = Math.abs(y) < 9007199254740992 && y % 2 !== 0 && Number.isInteger(y);
  if (y === Infinity || y === -Infinity) return size === 1 ? Number.NaN : size > 1 === y > 0 ? Infinity : 0;
  if (size === 0 || size === Infinity) {
    const value = (size === 0) === y > 0 ? 0 : Infinity;
    return odd && (x < 0 || Object.is(x, -0)) ? -value : value;
  }
  if (x < 0 && !Number.isInteger(y)) return Number.NaN;
  return x < 0 && odd ? -positivePower(size, y) : positivePower(size, y);
}

function positivePower(x: number, y: number): number {
  const head = logHead(x);
  const product = y * head;
  if (product > 710) return Infinity;
  if (product < -746) return 0;
  if (Math.abs(product) < 1e-20) return 1;
  return expOfSum(product, productError(y, head, product) + y * logTail());
}

/** x x, for an x that is long to write twice. */
export function square(x: number): number {
  return x * x;
}
