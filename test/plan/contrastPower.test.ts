import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { contrastPower, linearContrast, noncentralFUpper } from "../../src/plan/contrastPower.ts";
import { assertDigits } from "../assertDigits.ts";

interface Oracle {
  readonly power: readonly {
    readonly densities: readonly number[];
    readonly means: readonly number[];
    readonly contrast: readonly number[];
    readonly blocks: number;
    readonly sigma: number;
    readonly alpha: number;
    readonly power: number;
  }[];
  readonly tails: readonly {
    readonly f: number;
    readonly dof: number;
    readonly lambda: number;
    readonly upper: number;
  }[];
}
const oracle: Oracle = JSON.parse(readFileSync(new URL("../oracle/planPower.json", import.meta.url), "utf8"));

describe("power of a contrast", () => {
  test("is that of R's noncentral t squared, which is F with 1 degree of freedom (test/oracle/planPower.R), 36 designs", () => {
    expect(oracle.power).toHaveLength(36);
    for (const { densities, means, contrast, blocks, sigma, alpha, power } of oracle.power) {
      const own = contrastPower({ contrast: linearContrast(densities), means, blocks, sigma, alpha });
      // R's pt with ncp stops at 1e-12 absolute (AS 243).
      assertDigits(own, power, 9);
      assertDigits(contrastPower({ contrast, means, blocks, sigma, alpha }), power, 9);
    }
  });

  test("noncentral F tails are R's over a wide range, to R's own absolute accuracy", () => {
    for (const { f, dof, lambda, upper } of oracle.tails)
      expect(Math.abs(noncentralFUpper(f, dof, lambda) - upper)).toBeLessThan(1e-11);
  });

  test("without any effect it is the size of the test, and it ends at certainty", () => {
    assertDigits(contrastPower({ contrast: [-1, 0, 1], means: [5, 5, 5], blocks: 4, sigma: 3 }), 0.05, 10);
    expect(contrastPower({ contrast: [-1, 0, 1], means: [0, 50, 900], blocks: 4, sigma: 3 })).toBeCloseTo(1, 12);
  });

  test("names what is wrong", () => {
    const sound = { contrast: [-1, 1], means: [1, 2], blocks: 4, sigma: 3 };
    expect(() => contrastPower({ ...sound, contrast: [1, 1] })).toThrow(/add to 0/);
    expect(() => contrastPower({ ...sound, means: [1] })).toThrow(/length|values/);
    expect(() => contrastPower({ ...sound, blocks: 1 })).toThrow(/blocks/);
  });
});
