/**
 * Decision quality: money lost against the truth's best rate by the recommendation and by three simple rules, over simulated
 * trials of different quality. `node bench/regret.mjs [trials per cell]` after `npm run build`; prints a Markdown table.
 *
 * Truths are none of the fitted families only: parabola, quadratic-plateau, linear-plateau and an exponential curve per plant, with
 * optimum, bend and level drawn anew for every trial, from sets that differ from the published knowledge on purpose: "usual" is
 * centred on it, "dry" and "high" lie 1.3 and 1.1 of its standard deviations away, "wide" is spread over 22,000 to 42,000 plants.
 */
import { analyzeTrial, readTrial, streamRandom } from "../dist/index.js";
import { recommendRate } from "../dist/recommend/recommendRate.js";
import { table } from "./tools.mjs";

const GRAIN = 4.5;
const SEED = 3.75;
const SHARE = 0.95;

const shapes = [
  (m, k, top) => (x) => top * (1 - k * (x - m) ** 2),
  (m, k, top) => (x) => top * (1 - k * Math.max(m - x, 0) ** 2),
  (m, k, top) => (x) => top * (1 - 12 * k * Math.max(m - x, 0)),
  (m, _k, top) => (x) => top * (x / m) * Math.exp(1 - x / m),
];

/** Optimum at harvest, thousand plants/ac. */
export const truthSets = {
  usual: (random) => 31.6 + 4 * random.normal(),
  dry: (random) => 25 + 3 * random.normal(),
  high: (random) => 37 + 3 * random.normal(),
  wide: (random) => 22 + 20 * random.next(),
};

/** Seeding rates, blocks, plot standard deviation (bu/ac). */
export const qualities = {
  "12 blocks x 6 rates, SD 6": { rates: [18, 23, 28, 33, 38, 43], blocks: 12, sigma: 6 },
  "4 blocks x 6 rates, SD 8": { rates: [18, 23, 28, 33, 38, 43], blocks: 4, sigma: 8 },
  "4 blocks x 4 rates, SD 10": { rates: [22, 28, 34, 40], blocks: 4, sigma: 10 },
  "3 blocks x 4 narrow rates, SD 12": { rates: [24, 28, 32, 36], blocks: 3, sigma: 12 },
};

/** One simulated trial: what each rule returns less than the best rate would have. */
export function oneTrial({ rates, blocks, sigma }, optimum, shape, seed, recommend = recommendRate) {
  const random = streamRandom(4242, seed);
  const m = optimum(random);
  const k = Math.exp(Math.log(0.0005) + 0.5 * random.normal());
  const top = 200 + 20 * random.normal();
  const truth = shapes[shape](m, k, top);
  const back = (rate) => GRAIN * truth(rate * SHARE) - SEED * rate;
  let best = Number.NEGATIVE_INFINITY;
  for (let rate = 10; rate <= 60; rate += 0.05) best = Math.max(best, back(rate));

  const rows = [];
  for (let block = 1; block <= blocks; block++) {
    const shift = 5 * random.normal();
    for (const rate of rates) {
      const grain = truth(rate * SHARE) + shift + sigma * random.normal();
      rows.push({
        crop: "maize",
        hybrid: "A",
        block,
        seeding_rate_k_ac: rate,
        stand_k_ac: rate * SHARE,
        yield_bu_ac: Math.max(grain, 1),
      });
    }
  }
  const { trial } = readTrial(rows, { acceptMagnitudes: true });
  const prices = { grainPrice: GRAIN, seedCostPerThousand: SEED };
  const analysis = analyzeTrial(trial, { resamples: 0, prices, seed });
  const field = { hybrid: "A", establishment: SHARE, planterStep: 0.5 };
  const draws = 400;
  const means = rates.map((rate) => {
    const own = rows.filter((row) => row.seeding_rate_k_ac === rate);
    return own.reduce((sum, row) => sum + row.yield_bu_ac, 0) / own.length;
  });
  const rules = {
    recommendation: recommend(analysis, field, { trial, draws }).rate,
    "from JSON alone": recommend(JSON.parse(JSON.stringify(analysis)), field, { draws }).rate,
    "without published": recommend(analysis, field, { trial, draws, elsewhere: "none" }).rate,
    "highest-yielding tested": rates[means.indexOf(Math.max(...means))],
    "quadratic optimum": quadraticRate(analysis.hybrids[0].pooled, rates),
    "fixed 32,000": 32,
  };
  return Object.fromEntries(Object.entries(rules).map(([rule, rate]) => [rule, best - back(rate)]));
}

/** Economic optimum of the least-squares parabola inside the tested range: the strongest form of that rule. */
function quadraticRate({ comparison }, rates) {
  const fit = comparison.fits.find(({ family }) => family === "quadratic");
  const [, b1, b2] = fit.curve.theta;
  const r = SEED / SHARE / GRAIN;
  const [low, high] = [rates[0] * SHARE, rates[rates.length - 1] * SHARE];
  if (b2 >= 0) return b1 + b2 * (low + high) > r ? rates[rates.length - 1] : rates[0];
  return Math.min(Math.max((r - b1) / (2 * b2), low), high) / SHARE;
}

/** Mean regret and its standard error by quality, truth set and rule. */
export function regret(trials, only = Object.keys(qualities)) {
  const cells = [];
  for (const quality of only) {
    for (const [set, optimum] of Object.entries(truthSets)) {
      const lost = {};
      for (let i = 0; i < trials; i++) {
        const one = oneTrial(qualities[quality], optimum, i % shapes.length, i);
        for (const [rule, value] of Object.entries(one)) {
          lost[rule] ??= [];
          lost[rule].push(value);
        }
      }
      cells.push({ quality, set, lost });
    }
  }
  return cells;
}

export function summary(values) {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  const variance = values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (values.length - 1);
  return { mean, error: Math.sqrt(variance / values.length) };
}

function tables(cells, trials) {
  const rules = Object.keys(cells[0].lost);
  const show = (values) => {
    const { mean, error } = summary(values);
    return `${mean.toFixed(2)} (${error.toFixed(2)})`;
  };
  const byQuality = [...new Set(cells.map(({ quality }) => quality))].map((quality) => {
    const own = cells.filter((cell) => cell.quality === quality);
    return [quality, ...rules.map((rule) => show(own.flatMap(({ lost }) => lost[rule])))];
  });
  const byCell = cells.map(({ quality, set, lost }) => [quality, set, ...rules.map((rule) => show(lost[rule]))]);
  return [
    "# Money lost against the best rate",
    "",
    `Mean regret per acre (standard error), grain at ${GRAIN} per bushel, seed at ${SEED} per thousand, ${trials} simulated trials a cell;`,
    "the same trials for every rule. Truths and qualities are described in `bench/regret.mjs`.",
    "",
    table(["trial", ...rules], byQuality),
    "",
    "By where the truths lie:",
    "",
    table(["trial", "truths", ...rules], byCell),
  ].join("\n");
}

if (process.argv[1] === import.meta.filename) {
  const trials = Number(process.argv[2] ?? 400);
  process.stdout.write(`${tables(regret(trials), trials)}\n`);
}
