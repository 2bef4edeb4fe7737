import { readFileSync } from "node:fs";
import { analyzeTrial } from "../../src/analyze/analyzeTrial.ts";
import { usablePlots } from "../../src/analyze/groups.ts";
import type { TrialAnalysis } from "../../src/analyze/result.ts";
import { earComponents } from "../../src/derive/earComponents.ts";
import { bootstrapCurves } from "../../src/interval/bootstrap.ts";
import type { ChartOptions } from "../../src/plot/chart.ts";
import * as plot from "../../src/plot/index.ts";
import { fitBrokenLine } from "../../src/standability/fitBrokenLine.ts";
import { fitLodging } from "../../src/standability/fitLodging.ts";
import { lodgingCounts } from "../../src/standability/lodgingCounts.ts";
import { standabilityFlags } from "../../src/standability/standabilityFlags.ts";
import { standabilityLimit } from "../../src/standability/standabilityLimit.ts";
import { readTrial } from "../../src/trial/readTrial.ts";
import type { Trial } from "../../src/trial/trial.ts";

export interface Demo {
  readonly trial: Trial;
  readonly analysis: TrialAnalysis;
}

const root = new URL("../..", import.meta.url);

export function demo(file: string, rows = (text: string): string => text): Demo {
  const { trial, issues } = readTrial(rows(readFileSync(new URL(`data-demo/${file}`, root), "utf8")));
  if (trial === null) throw new Error("the demo trial must be readable");
  const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 };
  return { trial, analysis: analyzeTrial(trial, { issues, prices, resamples: 200 }) };
}

/** One site-year and three hybrids of plots.csv: small enough to fit in a moment, with interior, flat and still rising curves. */
export function smallDemo(): Demo {
  return demo("plots.csv", (text) =>
    text
      .split("\n")
      .filter((line, i) => i === 0 || /^maize,Northfield,2031,.*(?:Fern 18|Dune 5|Elm 30)/.test(line))
      .join("\n"),
  );
}

type Sources = ReturnType<typeof makeSources>;
const made = new WeakMap<Trial, Sources>();

/** Fits behind the charts, made once for a trial. */
function sourcesOf(trial: Trial): Sources {
  const known = made.get(trial) ?? makeSources(trial);
  made.set(trial, known);
  return known;
}

function makeSources(trial: Trial) {
  const hybrid = "Fern 18";
  const plots = usablePlots(trial).filter((one) => one.hybrid === hybrid);
  const counts = lodgingCounts(plots);
  const lodging = fitLodging(counts);
  const trait = {
    density: plots.map(({ density }) => density as number),
    trait: plots.map(({ traits }) => Number(traits.find(([name]) => name.startsWith("stalk_diameter"))?.[1] ?? 20)),
    block: plots.map(({ block }) => block),
  };
  const yields = {
    density: trait.density,
    yield: plots.map((one) => one.yield as number),
    block: trait.block,
  };
  const range = [Math.min(...trait.density), Math.max(...trait.density)] as const;
  const boot = bootstrapCurves(yields, { resamples: 400, keep: true, between: [20, 38] });
  const ears = earComponents(
    [0, 1].flatMap((h) =>
      [20, 26, 32, 38].flatMap((density, i) =>
        [1, 2, 3].map((block) => ({
          hybrid: ["Amber 12", "Birch 7"][h],
          block,
          density,
          earsPerPlant: 1 + (h === 0 ? 0.3 : 0.05) * (20 / density - 0.5) + 0.01 * ((block * 7 + i) % 3),
          rowsPerEar: 16 - 0.03 * (density - 20) + 0.1 * ((block + i) % 2),
          kernelsPerRow: 38 - 0.45 * (density - 20) + 0.4 * ((block + 2 * i) % 3),
          kernelMass: 320 - 2 * (density - 20) + 2 * ((2 * block + i) % 3),
        })),
      ),
    ),
  );
  return {
    lodging,
    flags: standabilityFlags(lodging, { resamples: 199 }),
    limit: standabilityLimit(lodging, { resamples: 199 }),
    trait,
    broken: fitBrokenLine(trait, { simulations: 199 }),
    range,
    boot,
    ears,
  };
}

/** Every chart there is, by name, made from the demo trial with these options. */
export function allCharts({ trial, analysis }: Demo, options: ChartOptions): Readonly<Record<string, plot.Chart>> {
  const hybrid = "Fern 18";
  const of = { ...options, hybrid, trial };
  const { lodging, flags, limit, trait, broken, range, boot, ears } = sourcesOf(trial);
  const goal = (yieldGoal: number, best: number): plot.YieldGoalView => ({
    yieldGoal,
    extrapolated: yieldGoal > 240,
    agronomic: { kind: "interior", density: best, yield: yieldGoal, interval: null },
    economic: null,
    curve: Array.from({ length: 13 }, (_, i) => 17 + 2 * i).map((density) => ({
      density,
      yield: yieldGoal - 0.1 * (density - best) ** 2,
    })),
  });
  const square = (x: number, y: number): unknown => ({
    type: "Polygon",
    coordinates: [
      [
        [x, y],
        [x + 0.003, y],
        [x + 0.003, y + 0.003],
        [x, y + 0.003],
        [x, y],
      ],
    ],
  });
  const zones = [
    { id: "hill", rate: 27.5, area: 22.4 },
    { id: "slope", rate: 31, area: 30.1 },
  ];
  return {
    response: plot.responseChart(analysis, of),
    families: plot.familiesChart(analysis, of),
    return: plot.returnChart(analysis, of),
    flexCurves: plot.flexCurvesChart(analysis, options),
    flexScores: plot.flexScoresChart(analysis, options),
    optima: plot.optimaChart(analysis, options),
    lodging: plot.lodgingChart(lodging, { ...options, hybrid, flags, limit }),
    trait: plot.traitChart(broken, trait, { ...options, hybrid, trait: "Stalk diameter, mm" }),
    bootstrap: plot.bootstrapChart(boot, { ...options, hybrid, range }),
    bootstrapFlex: plot.bootstrapChart(boot, { ...options, hybrid, quantity: "flexScore" }),
    earComponents: plot.earComponentsChart(ears, options),
    yieldGoal: plot.yieldGoalChart([goal(180, 28), goal(210, 32), goal(250, 36)], { ...options, hybrid }),
    residual: plot.residualChart(analysis, of),
    zoneMap: plot.zoneMapChart(
      { rateUnit: "1000 plants/ac", areaUnit: "ac", zones, uniform: { rate: 30.5 } },
      { features: [{ geometry: square(-93.6, 41.5) }, { geometry: square(-93.597, 41.5) }] },
      options,
    ),
  };
}
