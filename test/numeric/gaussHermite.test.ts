import { expect, test } from "vitest";
import { normalQuadrature } from "../../src/numeric/gaussHermite.ts";
import { assertDigits } from "../assertDigits.ts";

test("three nodes: -sqrt(3), 0, sqrt(3) with weights 1/6, 2/3, 1/6; one node: 0; two: -1 and 1", () => {
  const { nodes, weights } = normalQuadrature(3);
  assertDigits(nodes[0], Math.sqrt(3), 14);
  expect(Math.abs(nodes[1])).toBe(0);
  assertDigits(nodes[2], -Math.sqrt(3), 14);
  [1 / 6, 2 / 3, 1 / 6].forEach((w, i) => void assertDigits(weights[i], w, 14));
  expect(Math.abs(normalQuadrature(1).nodes[0])).toBe(0);
  assertDigits(normalQuadrature(1).weights[0], 1, 15);
  assertDigits(normalQuadrature(2).nodes[0], 1, 15);
  assertDigits(normalQuadrature(2).weights[1], 0.5, 14);
});

test("n nodes give the moments of the normal up to degree 2 n - 1, and not the next", () => {
  for (let n = 1; n <= 60; n++) {
    const { nodes, weights } = normalQuadrature(n);
    // distinct and in falling order: no root found twice
    for (let i = 1; i < n; i++) expect(nodes[i]).toBeLessThan(nodes[i - 1]);
    let moment = 1; // (2 k - 1)!!
    for (let k = 0; k <= n && k < 40; k++) {
      if (k > 0) moment *= 2 * k - 1;
      const sum = nodes.reduce((total, u, i) => total + weights[i] * (u * u) ** k, 0);
      if (k < n) assertDigits(sum, moment, 12, `n ${n}, moment ${2 * k}`);
      else if (n < 15) expect(Math.abs(sum / moment - 1)).toBeGreaterThan(1e-6);
    }
  }
});
