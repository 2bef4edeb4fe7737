import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { powerText, trialPower } from "../../src/index.ts";

test("the README prints the table of its worked plan", () => {
  const readme = readFileSync(new URL("../../README.md", import.meta.url), "utf8");
  const power = trialPower({
    densities: [16, 19, 25, 28, 43, 46],
    blocks: [3, 4, 6, 8],
    prior: { optimum: [28, 36], lossBelow: { distance: 10, loss: [6, 12] }, bestYield: 205 },
    sigma: 6,
    simulations: 1000,
  });
  const table = powerText(power)
    .split("\n\n")
    .find((block) => block.includes("holds the"));
  expect(readme).toContain(table);
});
