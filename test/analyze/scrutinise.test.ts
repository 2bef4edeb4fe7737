import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { analyzeTrial } from "../../src/analyze/analyzeTrial.ts";
import type { CurveAnalysis, TrialAnalysis } from "../../src/analyze/result.ts";
import { analyzeGroup } from "../../src/batch/analyzeGroup.ts";
import { readTrial } from "../../src/trial/readTrial.ts";
import { assertDigits } from "../assertDigits.ts";

const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 };
const lines = readFileSync(new URL("../../data-demo/plots.csv", import.meta.url), "utf8")
  .trimEnd()
  .split("\n");
const header = lines[0].split(",");
const column = (name: string): number => header.indexOf(name);

function analysed(rows: readonly string[], options = {}): TrialAnalysis {
  const { trial } = readTrial([lines[0], ...rows].join("\n"), { densityAxis: "seeding-rate" });
  if (trial === null) throw new Error("cannot be read");
  return analyzeTrial(trial, { prices, resamples: 0, standability: false, ...options });
}

function pooledOf(analysis: TrialAnalysis): CurveAnalysis {
  const [{ pooled }] = analysis.hybrids;
  if (pooled.kind !== "analysed") throw new Error(pooled.reason);
  return pooled;
}

const rows = lines.slice(1).filter((line) => line.split(",")[column("hybrid")] === "Birch 7");

test("what is left out moves the optimum exactly as a file without those rows does", () => {
  const whole = pooledOf(analysed(rows));
  const worst = whole.scrutiny?.influence.worst ?? [];
  expect(new Set(worst.map(({ unit }) => unit))).toEqual(new Set(["environment", "block", "density", "plot"]));
  for (const { unit, label, decision } of worst) {
    const kept = rows.filter((line) => {
      const cells = line.split(",");
      const environment = `${cells[column("site")]} ${cells[column("year")]}`;
      if (unit === "environment") return environment !== label;
      if (unit === "block") return `${cells[column("block")]} of ${environment}` !== label;
      return unit === "density"
        ? cells[column("seeding_rate_k_ac")] !== label
        : `${cells[column("plot")]} of ${environment}` !== label;
    });
    expect(kept.length).toBeLessThan(rows.length);
    const again = pooledOf(analysed(kept, { byEnvironment: false }));
    if (decision?.economic?.density == null) throw new Error("no optimum");
    expect(decision.family).toBe(again.chosen);
    assertDigits(decision.economic.density, again.economic?.optimum.density as number, 9);
  }
});

test("plots without a name are told by their row, blocks of one environment by their label alone", () => {
  const at = column("plot");
  const bare = rows
    .filter((line) => line.includes("Northfield,2031"))
    .map((line) =>
      line
        .split(",")
        .filter((_, i) => i !== at)
        .join(","),
    );
  const { trial } = readTrial([header.filter((_, i) => i !== at).join(","), ...bare].join("\n"));
  if (trial === null) throw new Error("cannot be read");
  const { scrutiny } = pooledOf(analyzeTrial(trial, { resamples: 0, standability: false }));
  const labels = (scrutiny?.influence.worst ?? []).map(({ unit, label }) => `${unit} ${label}`);
  expect(labels.length).toBeGreaterThan(0);
  for (const label of labels) expect(label).toMatch(/^(plot in row \d+|block \d+|density [\d.]+)$/);
});

test("scatter that grows with density is told, even where weights would not move the optimum", () => {
  const signs = [1, -1, 0.7, -0.7, 1.2, -1.2, 0.5, -0.5];
  const plots = signs.flatMap((_, block) =>
    [18, 24, 30, 36, 42].map((stand_k_ac, at) => ({
      hybrid: "A",
      block,
      stand_k_ac,
      yield_bu_ac: 200 - 0.15 * (31 - stand_k_ac) ** 2 + (1 + 3 * at) * signs[(3 * at + block) % 8],
    })),
  );
  const { trial } = readTrial(plots);
  if (trial === null) throw new Error("cannot be read");
  const { scrutiny } = pooledOf(analyzeTrial(trial, { resamples: 0 }));
  expect(scrutiny?.checks.find(({ name }) => name === "spread-by-density")?.p).toBeLessThan(0.05);
  expect(scrutiny?.alarms.join(" ")).toMatch(/plots scatter unequally: most at (36|42)/);
});

test("it can be left out, is never made for single environments, and batches leave it out unless asked", () => {
  expect(pooledOf(analysed(rows, { scrutiny: false })).scrutiny).toBeNull();
  const [{ environments }] = analysed(rows).hybrids;
  expect(environments.every((one) => one.kind === "analysed" && one.scrutiny === null)).toBe(true);
  const plots = [1, 2].flatMap((block) =>
    [20, 25, 30, 35].map((x) => ({ block, stand_k_ac: x, yield_bu_ac: 150 + x + block + (x % 10) })),
  );
  const group = { schema: "standcurve/group/1", hybrid: "A", environment: null, plots } as const;
  const made = (options: object) => {
    const { analysis } = analyzeGroup({ ...group, options: { resamples: 0, ...options } });
    return analysis === null ? null : pooledOf(analysis).scrutiny;
  };
  expect(made({})).toBeNull();
  expect(made({ scrutiny: true })?.influence.leftOut).toBe(8 + 2 + 4);
});
