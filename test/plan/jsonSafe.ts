import { expect } from "vitest";

/** Fails when a result holds NaN, Infinity, undefined, a function, or loses something in JSON. */
export function expectJsonSafe(value: unknown): void {
  const walk = (one: unknown, path: string): void => {
    if (typeof one === "number" && !Number.isFinite(one)) expect.fail(`${path} is ${one}`);
    if (one === undefined || typeof one === "function" || ArrayBuffer.isView(one))
      expect.fail(`${path} is not plain data`);
    if (one !== null && typeof one === "object")
      for (const [key, inner] of Object.entries(one)) walk(inner, `${path}.${key}`);
  };
  walk(value, "result");
  expect(JSON.parse(JSON.stringify(value))).toEqual(value);
}
