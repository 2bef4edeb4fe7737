import { expect, test } from "vitest";
import { bootstrapJob, estimateOf } from "../../src/interval/bootstrapJob.ts";
import { prepareIntervalData } from "../../src/interval/intervalData.ts";
import { assertDigits } from "../assertDigits.ts";
import { bootstrapCases, repeatBootstrap } from "./bootstrapReference.ts";

test("the invented trial gives four cases", () => {
  expect(bootstrapCases().filter(({ beside }) => !beside).length).toBe(4);
});

for (const reference of bootstrapCases()) {
  const { analysis, data, family, scalar, digits } = reference;
  test(`${analysis.id}: replicates, percentile, basic and BCa limits are those of R with the same indices`, () => {
    repeatBootstrap(reference, (figure, actual, expected, detail) => {
      assertDigits(actual, expected, digits, `${figure} ${detail}`);
    });
    const plain = { ...prepareIntervalData(data), cluster: null };
    // The public estimate goes through the whole range of the scalar: six decimals.
    expect(estimateOf(bootstrapJob(plain, { families: [family], resamples: analysis.B }), scalar)).toBeCloseTo(
      analysis.t0,
      6,
    );
  });
}
