import { readFileSync } from "node:fs";
import { analyzeTrial } from "../../src/analyze/analyzeTrial.ts";
import type { AnalyzeOptions } from "../../src/analyze/options.ts";
import type { TrialAnalysis } from "../../src/analyze/result.ts";
import { readTrial, type TrialReading } from "../../src/trial/readTrial.ts";
import type { ReadSchema } from "../../src/trial/schema.ts";

export const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 };

/** Text of a demo file. */
export function demo(name: string): string {
  return readFileSync(new URL(`../../data-demo/${name}.csv`, import.meta.url), "utf8");
}

/** Reads and analyses; few resamples, for these tests look at words and shapes. */
export function analysed(
  source: string | readonly Readonly<Record<string, unknown>>[],
  options: AnalyzeOptions = {},
  schema: ReadSchema = {},
): TrialAnalysis {
  const { trial, issues } = readTrial(source, { crop: "maize", ...schema });
  if (trial === null) throw new Error(issues.map(({ message }) => message).join("\n"));
  return analyzeTrial(trial, { resamples: 60, issues, ...options });
}

export function reading(source: string, schema: ReadSchema = {}): TrialReading {
  return readTrial(source, { crop: "maize", ...schema });
}

/** Yields by density in four blocks, moved up and down by a fixed pattern of about `noise`. */
export function table(
  response: (density: number) => number,
  densities: readonly number[],
  { hybrids = ["A"], blocks = 4, noise = 3 }: { hybrids?: readonly string[]; blocks?: number; noise?: number } = {},
): string {
  const lines = ["hybrid,block,stand_k_ac,yield_bu_ac"];
  let turn = 0;
  for (const hybrid of hybrids) {
    for (let block = 1; block <= blocks; block++) {
      for (const density of densities) {
        turn = (turn * 7 + 3) % 11;
        const quoted = `"${hybrid.replaceAll('"', '""')}"`;
        lines.push(`${quoted},${block},${density},${(response(density) + (noise * (turn - 5)) / 5).toFixed(2)}`);
      }
    }
  }
  return `${lines.join("\n")}\n`;
}

/** The same with lodging counts of 60 plants a plot in named columns, whole plants by rounding. */
export function lodgingTable(
  share: (density: number) => number,
  { response = peak, densities = five, blocks = 4, plants = 60, column = "stalk_lodged" } = {},
): string {
  const [, ...rows] = table(response, densities, { blocks }).trim().split("\n");
  let turn = 0;
  const lines = rows.map((row) => {
    turn = (turn * 7 + 3) % 11;
    const density = Number(row.split(",")[2]);
    const lodged = Math.min(plants, Math.max(0, Math.round(plants * share(density) * (1 + (turn - 5) / 15))));
    return `${row},${lodged},${plants}`;
  });
  return `${[`hybrid,block,stand_k_ac,yield_bu_ac,${column},plants_examined`, ...lines].join("\n")}\n`;
}

export const five: readonly number[] = [18, 24, 30, 36, 42];
export const peak = (x: number): number => 200 - 0.15 * (x - 31) ** 2;

/** Names that try to break text, tables and spreadsheets. */
export const hostileNames: readonly string[] = [
  "=1+1",
  "+cmd",
  "-2+3",
  "@SUM(A1)",
  "<img src=x onerror=alert(1)>",
  'Comma, "quote"',
  "Two\nlines",
  "Bell\u0007and\u001b[31mred",
  "Ünïcödé ☘ 玉米",
  "A name that is a good deal longer than any column of a table of a hundred columns could sensibly hold",
];

/** Trials that an ordinary report does not meet, by name. */
export const oddTrials: Readonly<Record<string, () => TrialAnalysis>> = {
  "one hybrid": () => analysed(table(peak, five), { prices }),
  "two densities": () => analysed(table(peak, [24, 36]), { prices }),
  "three densities": () => analysed(table(peak, [24, 30, 36]), { prices }),
  "all left out": () =>
    analysed("hybrid,block,stand_k_ac,yield_bu_ac,exclude\nA,1,20,170,yes\nA,1,30,200,yes\n", { prices }),
  "no yields": () => analysed("hybrid,block,stand_k_ac,yield_bu_ac\nA,1,20,\nA,1,30,\n", { prices }),
  "one density": () => analysed(table(peak, [30])),
  "no prices": () => analysed(table(peak, five)),
  flat: () =>
    analysed(
      table(() => 180, five),
      { prices },
    ),
  "still rising": () =>
    analysed(
      table((x) => 100 + 2.5 * x, five),
      { prices },
    ),
  falling: () =>
    analysed(
      table((x) => 260 - 2.5 * x, five),
      { prices },
    ),
  "bends upwards": () =>
    analysed(
      table((x) => 150 + 0.15 * (x - 31) ** 2, five),
      { prices },
    ),
  "no error left": () => analysed(table(peak, five, { noise: 0 }), { prices }),
  "four plots": () => analysed(table(peak, [20, 30, 36, 42], { blocks: 1 }), { prices }),
  "five plots": () => analysed(table(peak, five, { blocks: 1 }), { prices }),
  "no resampling": () => analysed(table(peak, five), { prices, resamples: 0 }),
  "free seed": () =>
    analysed(table(peak, five), { prices: { grainPrice: 4.5, seedCostPerThousand: 0, yieldCost: 0.5 } }),
  "all curves asked for": () =>
    analysed(table(peak, five), { prices, families: ["flat", "linear", "quadratic", "linear-plateau"] }),
  "flat only": () => analysed(table(peak, five), { prices, families: ["flat"] }),
  "ninety per cent": () => analysed(table(peak, five), { prices, level: 0.9, between: [20, 40] }),
  "plants per square metre": () =>
    analysed(
      table(peak, five),
      { prices: { grainPrice: 180, seedCostPerThousand: 3 } },
      { densityUnit: "plants/m2", yieldUnit: "t/ha" },
    ),
  "grams per square metre": () =>
    analysed(
      table(peak, five),
      { prices: { grainPrice: 0.0002, seedCostPerThousand: 3 } },
      { densityUnit: "plants/ft2", yieldUnit: "g/m2" },
    ),
  "seeding rates": () =>
    analysed(table(peak, five).replace("stand_k_ac", "seeding_rate_k_ac"), { prices }, { establishment: 0.93 }),
  "seeding rates alone": () => analysed(table(peak, five).replace("stand_k_ac", "seeding_rate_k_ac"), { prices }),
  "ranges apart": () =>
    analysed(
      table(peak, [18, 22, 26], { hybrids: ["Low"] }) +
        table(peak, [34, 38, 42], { hybrids: ["High"] }).replace(/^.*\n/, ""),
      { prices },
    ),
  "hostile names": () => analysed(table(peak, five, { hybrids: hostileNames }), { prices }),
  "thirty hybrids": () =>
    analysed(table(peak, [20, 28, 36, 44], { hybrids: Array.from({ length: 30 }, (_, i) => `Hybrid ${i + 1}`) }), {
      prices,
      resamples: 20,
    }),
  "lodges below the optimum": () =>
    analysed(
      lodgingTable((x) => 1 / (1 + Math.exp(2.2 - 0.35 * (x - 27)))),
      { prices },
    ),
  "lodges everywhere": () =>
    analysed(
      lodgingTable((x) => 0.2 + 0.01 * x),
      { prices },
    ),
  "nothing lodged": () =>
    analysed(
      lodgingTable(() => 0),
      { prices },
    ),
  "everything lodged": () => analysed(lodgingTable(() => 1, { plants: 10 })),
  "few plants, nothing lodged": () =>
    analysed(
      lodgingTable(() => 0, { blocks: 1, plants: 3 }),
      { prices },
    ),
  "less lodging when dense": () =>
    analysed(
      lodgingTable((x) => 0.35 - 0.008 * x),
      { prices },
    ),
  "lodging without yield": () =>
    analysed(
      lodgingTable((x) => 0.002 * x)
        .split("\n")
        .map((line) =>
          line
            .split(",")
            .filter((_, c) => c !== 3)
            .join(","),
        )
        .join("\n"),
    ),
  "percentages of lodging": () =>
    analysed(
      lodgingTable((x) => 0.004 * x, { column: "root_lodging_pct", plants: 100 })
        .split("\n")
        .map((line) => line.split(",").slice(0, 5).join(","))
        .join("\n"),
      { prices },
    ),
  "push test only": () =>
    analysed(
      lodgingTable((x) => 0.006 * x, { column: "push_test_failed" }),
      { prices },
    ),
  "no standability wanted": () =>
    analysed(
      lodgingTable((x) => 0.004 * x),
      { prices, standability: false },
    ),
  "seeding rates that lodge": () =>
    analysed(
      lodgingTable((x) => 1 / (1 + Math.exp(2.2 - 0.3 * (x - 30)))).replace("stand_k_ac", "seeding_rate_k_ac"),
      { prices, toleratedLodging: 0.05, lossShare: 0.2 },
      { establishment: 0.93 },
    ),
  rows: () =>
    analysed(
      five.flatMap((density) =>
        [1, 2, 3].map((block) => ({ hybrid: "A", block, stand_k_ac: density, yield_bu_ac: peak(density) + block })),
      ),
      { prices },
    ),
};

/** Every demo file that can be analysed. */
export const demoTrials: Readonly<Record<string, () => TrialAnalysis>> = {
  plots: () => analysed(demo("plots"), { prices, resamples: 30 }),
  strips: () => analysed(demo("strips"), { prices }),
  standing: () => analysed(demo("standing"), { prices, resamples: 199 }),
  network: () => analysed(demo("network"), { prices, resamples: 0, byEnvironment: false, yieldGoal: 220 }),
  "messy-semicolon": () => analysed(demo("messy-semicolon"), { prices }),
  "messy-cells": () => analysed(demo("messy-cells"), { prices }, { columns: { hybrid: "hybrid" } }),
};
