import { expect, test } from "vitest";
import { stabilitySlopes } from "../../src/mixed/stabilitySlopes.ts";
import { assertDigits } from "../assertDigits.ts";

// Means of 7 genotypes in 6 environments, Sharma (1988), Statistical and Biometrical Techniques in Plant Breeding;
// slopes and residual mean square recomputed in R, printed to 5 figures. Each is a mean of 3, so the thirds are restored.
const means: Record<string, number[]> = {
  A: [61.6667, 71.6667, 47.6667, 73.3333, 81.3333, 43.3333],
  B: [84.3333, 88.3333, 40, 63.3333, 78.3333, 42.6667],
  C: [27.6667, 31.6667, 26.6667, 36.6667, 36.6667, 31.6667],
  D: [55, 50, 48.3333, 40, 46.6667, 42.6667],
  E: [52.3333, 46.6667, 36, 53, 43.6667, 36.6667],
  F: [24, 27.6667, 46.6667, 30, 27.3333, 50],
  G: [28.3333, 40, 39.3333, 32.3333, 32.3333, 43],
};
const long = Object.entries(means).flatMap(([hybrid, row]) =>
  row.map((value, e) => ({ hybrid, environment: `e${e + 1}`, value: Math.round(value * 3) / 3 })),
);
const data = {
  yield: long.map(({ value }) => value),
  hybrid: long.map(({ hybrid }) => hybrid),
  environment: long.map(({ environment }) => environment),
};

test("stabilitySlopes gives the Finlay-Wilkinson slopes of Sharma's table", () => {
  const result = stabilitySlopes(data);
  const index = [1.45238, 4.69048, -5.5, 0.78571, 3.30952, -4.7381];
  result.index.forEach(({ value }, e) => {
    expect(Math.abs(value - index[e])).toBeLessThan(1e-5); // printed to 5 decimals
  });
  const slopes = [3.22499, 4.79361, 0.47711, 0.36531, 1.237, -2.43169, -0.66632];
  result.slopes.forEach(({ slope, standardError }, h) => {
    expect(Math.abs(slope - slopes[h])).toBeLessThan(6e-6); // printed to 5 decimals
    expect(Math.abs((standardError ?? 0) - 0.62311)).toBeLessThan(6e-6);
  });
  expect(result.dofResidual).toBe(28);
  expect(Math.abs((result.residualMeanSquare ?? 0) - 34.32)).toBeLessThan(0.005); // printed to 2 decimals
  assertDigits(result.slopes.reduce((sum, { slope }) => sum + slope, 0) / 7, 1, 12);
});

test("a missing cell is allowed for: an exact additive-times-slope table keeps its index", () => {
  const short = long.filter(({ hybrid, environment }) => !(hybrid === "C" && environment === "e2"));
  const result = stabilitySlopes({
    yield: short.map(({ value }) => value),
    hybrid: short.map(({ hybrid }) => hybrid),
    environment: short.map(({ environment }) => environment),
  });
  expect(result.notes.join(" ")).toContain("miss");
  // Purely additive yields: every slope is 1 whatever is missing.
  const additive = stabilitySlopes({
    yield: short.map(({ hybrid, environment }) => hybrid.charCodeAt(0) + 3 * Number(environment.slice(1)) ** 2),
    hybrid: short.map(({ hybrid }) => hybrid),
    environment: short.map(({ environment }) => environment),
  });
  for (const { slope } of additive.slopes) assertDigits(slope, 1, 10);
});

test("too few environments or hybrids throw", () => {
  expect(() => stabilitySlopes({ yield: [1, 2, 3], hybrid: ["A", "A", "A"], environment: [1, 2, 3] })).toThrow(
    expect.objectContaining({ code: "not-estimable" }),
  );
});
