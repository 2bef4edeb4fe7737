// Draws the pictures of the README from the demo trial: `npm run build && node data-demo/pictures/make-pictures.mjs`.
import { readFileSync, writeFileSync } from "node:fs";
import { analyzeTrial, chooseDensities, recommendRate, readTrial } from "../../dist/index.js";
import { renderChart } from "../../dist/node/index.js";
import {
  densitySetsChart,
  flexCurvesChart,
  limitsChart,
  lodgingChart,
  optimaChart,
  responseChart,
  returnChart,
} from "../../dist/plot/index.js";

const { trial, issues } = readTrial(readFileSync(new URL("../plots.csv", import.meta.url), "utf8"));
const analysis = analyzeTrial(trial, { issues, prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 } });
const look = { currency: "$" };
const fern = { ...look, hybrid: "Fern 18", trial };
const standing = analysis.hybrids.find(({ hybrid }) => hybrid === "Fern 18").pooled.standability;
const field = JSON.parse(readFileSync(new URL("../field.json", import.meta.url), "utf8"));
const prior = { optimum: [28, 36], lossBelow: { distance: 10, loss: [6, 10] }, bestYield: 215 };
const choice = chooseDensities({
  prior,
  steps: { from: 16, to: 46, step: 3 },
  count: 6,
  sigma: 6,
  compareWith: [
    [24, 28, 32, 36],
    [18, 23, 28, 33, 38, 43],
  ],
});
const pictures = {
  "response.svg": responseChart(analysis, fern),
  "optima.svg": optimaChart(analysis, look),
  "flex.svg": flexCurvesChart(analysis, look),
  "return.svg": returnChart(analysis, fern),
  "limits.svg": limitsChart(recommendRate(analysis, field, { trial }), { ...look, presentRate: field.presentRate }),
  "densities.svg": densitySetsChart(choice, look),
  "lodging.svg": lodgingChart(standing.lodging[0], { ...look, hybrid: "Fern 18" }),
};
for (const [name, chart] of Object.entries(pictures)) {
  writeFileSync(new URL(name, import.meta.url), `${await renderChart(chart)}\n`);
  console.log(`![${chart.alt}](data-demo/pictures/${name})`);
}
