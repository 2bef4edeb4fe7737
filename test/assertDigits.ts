import { expect } from "vitest";

/** Fails unless `actual` agrees with `expected` to that many significant digits (log relative error). */
export function assertDigits(actual: number | null | undefined, expected: number, digits: number, what = ""): void {
  const got = actual ?? Number.NaN;
  const error = Math.abs(got - expected) / (expected === 0 ? 1 : Math.abs(expected));
  if (!(error <= 10 ** -digits)) {
    expect.fail(
      `${what} expected ${expected} to ${digits} digits, got ${got} (relative error ${error.toExponential(2)})`,
    );
  }
}
