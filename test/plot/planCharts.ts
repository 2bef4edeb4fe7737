import { readFileSync } from "node:fs";
import { chooseDensities } from "../../src/plan/chooseDensities.ts";
import { layoutTrial } from "../../src/plan/layoutTrial.ts";
import { trialPower } from "../../src/plan/trialPower.ts";
import { whatNext } from "../../src/plan/whatNext.ts";
import type { ChartOptions } from "../../src/plot/chart.ts";
import * as plot from "../../src/plot/index.ts";
import { recommendRate } from "../../src/recommend/recommendRate.ts";
import { stepPlan } from "../../src/recommend/stepPlan.ts";
import type { Demo } from "./demoCharts.ts";

type Sources = ReturnType<typeof makeSources>;
let made: Sources | null = null;

function makeSources({ trial, analysis }: Demo) {
  const field = JSON.parse(readFileSync(new URL("../../data-demo/field.json", import.meta.url), "utf8"));
  const rates = [18, 23, 28, 33, 38, 43];
  const prior = { optimum: [30, 36], lossBelow: { distance: 10, loss: [6, 10] }, bestYield: 210 } as const;
  return {
    field,
    recommendation: recommendRate(analysis, field, { trial }),
    steps: stepPlan(analysis, field, { trial }),
    power: trialPower({
      densities: [rates, [24, 28, 32, 36]],
      blocks: [3, 4, 6, 8, 12],
      prior,
      sigma: 6,
      simulations: 100,
    }),
    choice: chooseDensities({
      prior,
      steps: { from: 16, to: 46, step: 5 },
      count: 5,
      sigma: 6,
      compareWith: [[24, 28, 32, 36, 40]],
      simulations: 200,
    }),
    layout: layoutTrial({
      hybrids: ["Amber 12", "Fern 18"],
      rates,
      densityUnit: "1000 plants/ac",
      blocks: 4,
      seed: 3,
    }),
    next: whatNext(analysis, { hybrid: "Elm 30", trial, simulations: 40 }),
  };
}

/** Every chart of recommending and planning, by name, made from the demo trial with these options. */
export function planCharts(demo: Demo, options: ChartOptions): Readonly<Record<string, plot.Chart>> {
  made ??= makeSources(demo);
  const { field, recommendation, steps, power, choice, layout, next } = made;
  return {
    limits: plot.limitsChart(recommendation, { ...options, presentRate: field.presentRate }),
    stepPlan: plot.stepPlanChart(steps, options),
    power: plot.powerChart(power, options),
    densitySets: plot.densitySetsChart(choice, options),
    layout: plot.layoutChart(layout, options),
    whatNext: plot.whatNextChart(next, options),
  };
}
