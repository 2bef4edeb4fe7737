/**
 * One cell of the coverage dossier: how often the limits of an optimum hold the truth, over seeded invented trials. Uses the
 * library's own set functions on one design that is prepared once, so that thousands of runs take a second.
 */

import { quantityInterval } from "../dist/derive/quantityInterval.js";
import { streamRandom } from "../dist/index.js";
import { bootstrapJob, distribution, drawStreams, streamCount } from "../dist/interval/bootstrapJob.js";
import { calibrate as calibrateCutoff } from "../dist/interval/calibrate.js";
import { prepareIntervalData } from "../dist/interval/intervalData.js";
import { optimumSet } from "../dist/interval/optimumSets.js";
import { optimumScalar } from "../dist/interval/scalar.js";
import { fQuantile } from "../dist/numeric/distributions.js";
import { joinResponse } from "../dist/numeric/joinDesign.js";
import { kernelFamilies, refitKernel } from "../dist/numeric/refitKernel.js";

const LOW = 18;
const SPAN = 25;
const RISE = 24;

/** Yield on the scaled density u; `optimum`: on u, at or above 1 beyond the range, null without response. */
export const truths = {
  flat: { yield: () => 200, optimum: null, family: "flat" },
  linear: { yield: (u) => 176 + RISE * u, optimum: 1, family: "linear" },
  "quadratic inside": { yield: (u) => 200 - RISE * ((0.62 - u) / 0.62) ** 2, optimum: 0.62, family: "quadratic" },
  "quadratic beyond": { yield: (u) => 200 - RISE * ((1.25 - u) / 1.25) ** 2, optimum: 1, family: "quadratic" },
  "linear-plateau inside": {
    yield: (u) => 200 - (RISE * Math.max(0.55 - u, 0)) / 0.55,
    optimum: 0.55,
    family: "linear-plateau",
  },
  "quadratic-plateau inside": {
    yield: (u) => 200 - RISE * (Math.max(0.62 - u, 0) / 0.62) ** 2,
    optimum: 0.62,
    family: "quadratic-plateau",
  },
  "quadratic-plateau beyond": {
    yield: (u) => 200 - RISE * (Math.max(1.3 - u, 0) / 1.3) ** 2,
    optimum: 1,
    family: "quadratic-plateau",
  },
  "exponential inside": { yield: exponential(0.62), optimum: 0.62, family: null },
  "exponential beyond": { yield: exponential(1.25), optimum: 1, family: null },
};

/** Y = x exp(a + b x), best at b = -1 / x, scaled to the same rise between the lowest density and the best. */
function exponential(best) {
  const top = LOW + SPAN * best;
  const shape = (x) => (x / top) * Math.exp(1 - x / top);
  const rise = 1 - shape(LOW);
  return (u) => 200 - (RISE * (1 - shape(LOW + SPAN * u))) / rise;
}

/** Standard errors, mean 0 and variance 1 on average over the densities. */
export const errors = {
  normal: (random) => random.normal(),
  /** Standard deviation 0.5 at the lowest density to 1.5 at the highest, rescaled. */
  unequal: (random, u) => ((0.5 + u) / Math.sqrt(13 / 12)) * random.normal(),
  /** Student's t on 3 degrees of freedom, variance 3. */
  heavy: (random) => random.normal() / Math.sqrt(chiSquare3(random) / 3) / Math.sqrt(3),
  /** Normal, with plots missing: block 1 lost its upper half, block 2 its lowest density. */
  missing: (random) => random.normal(),
};

function chiSquare3(random) {
  return random.normal() ** 2 + random.normal() ** 2 + random.normal() ** 2;
}

/** Plots of a cell: densities evenly over the range in every block. */
function layout({ levels, blocks, error }) {
  const density = [];
  const block = [];
  for (let b = 0; b < blocks; b++) {
    for (let l = 0; l < levels; l++) {
      if (error === "missing" && ((b === 0 && l >= levels / 2) || (b === 1 && l === 0))) continue;
      density.push(LOW + (SPAN * l) / (levels - 1));
      block.push(b);
    }
  }
  return { density, block };
}

/** Makes the yields of run after run; every cell has its own stream. */
function maker(cell, data, stream) {
  const { yield: mean } = truths[cell.truth];
  const random = streamRandom(2024, stream);
  const sd = RISE / cell.ratio;
  const u = data.density.map((x) => (x - LOW) / SPAN);
  const draw = errors[cell.error];
  return (y) => {
    // Block effects sum to zero, so that the truth is the curve of the average block.
    const drawn = Array.from({ length: cell.blocks }, () => 4 * random.normal());
    const centre = drawn.reduce((sum, value) => sum + value, 0) / cell.blocks;
    const shift = drawn.map((value) => value - centre);
    for (let i = 0; i < y.length; i++) y[i] = mean(u[i]) + shift[data.block[i]] + sd * draw(random, u[i]);
  };
}

const responding = ["linear", "quadratic", "linear-plateau", "quadratic-plateau"];

/** Tallies sets: coverage, width as a share of the range (open ends at its end), share with an open end. */
function tally(optimum) {
  let runs = 0;
  let covered = 0;
  let open = 0;
  let whole = 0;
  let width = 0;
  return {
    add({ ranges, lowerOpen, upperOpen }) {
      runs++;
      if (lowerOpen || upperOpen) open++;
      if (lowerOpen && upperOpen) whole++;
      let end = 0;
      let total = 0;
      let inside = false;
      for (const [from, to] of ranges) {
        total += Math.max(to - Math.max(from, end), 0);
        end = Math.max(end, to);
        if (optimum !== null && optimum < 1 && optimum >= from && optimum <= to) inside = true;
      }
      width += total;
      if (optimum !== null && (optimum >= 1 ? upperOpen : inside)) covered++;
    },
    result: () => ({
      runs,
      coverage: optimum === null ? null : covered / runs,
      width: width / runs,
      open: open / runs,
      whole: whole / runs,
    }),
  };
}

function union(sets) {
  const ranges = sets.flatMap((set) => [...set.inside]).sort((a, b) => a[0] - b[0]);
  return {
    ranges,
    lowerOpen: sets.some((set) => set.lowerEdge || set.inside.some(([from]) => from <= 0)),
    upperOpen: sets.some((set) => set.upperEdge || set.inside.some(([, to]) => to >= 1)),
  };
}

/**
 * Analytic methods on one cell.
 *
 * @param r - price ratio; the truth is then the economic optimum
 * @param calibrate - also with a simulated cut-off of that many simulations (slow)
 */
export function analyticCell(cell, runs, stream, { r = 0, calibrate = 0 } = {}) {
  const data = layout(cell);
  const prepared = prepareIntervalData({ ...data, yield: data.density });
  const { design } = prepared;
  const y = new Float64Array(data.density.length);
  const make = maker(cell, data, stream);
  const kernel = refitKernel(design);
  const truth = truths[cell.truth];
  const optimum = r > 0 ? economic(truth, r) : truth.optimum;
  const n = y.length;
  const dof = n - design.blocks - 2;
  const f = fQuantile(0.95, 1, dof) / dof;
  const tallies = {
    envelope: tally(optimum),
    selected: tally(optimum),
    truth: tally(optimum),
    calibrated: tally(optimum),
  };
  let flatNotExcluded = 0;
  let flatCalibrated = 0;
  const penalty = (p) => {
    const k = design.blocks + p + 1;
    return 2 * k + (2 * k * (k + 1)) / (n - k - 1);
  };
  for (let run = 0; run < runs; run++) {
    make(y);
    const response = joinResponse(design, y);
    kernel.fit(response.sums);
    const rss = (family) => response.total - kernel.gain[kernelFamilies.indexOf(family)];
    const least = Math.min(...responding.map(rss));
    const sets = (families, cutoff) => families.map((family) => optimumSet(family, design, response, r, cutoff));
    const cutoff = least * (1 + f);
    if (response.total <= cutoff) flatNotExcluded++;
    tallies.envelope.add(union(sets(responding, cutoff)));
    if (truth.family && truth.family !== "flat") {
      const own = truth.family === "linear" ? dof + 1 : dof;
      tallies.truth.add(union(sets([truth.family], rss(truth.family) * (1 + fQuantile(0.95, 1, own) / own))));
    }
    // The usual practice: the best by AICc, its own profile interval.
    const best = responding.reduce((a, b) => {
      const score = (family) => n * Math.log(rss(family) / n) + penalty(family === "linear" ? 1 : 2);
      return score(b) < score(a) ? b : a;
    });
    tallies.selected.add(union(sets([best], rss(best) * (1 + f))));
    if (calibrate > 0) {
      const options = {
        r,
        level: 0.95,
        dof,
        plain: f,
        simulations: calibrate,
        seed: run,
        flat: truth.optimum === null,
      };
      const { factor, flatFactor } = calibrateCutoff({ ...prepared, y }, responding, options);
      if (response.total <= least * (1 + flatFactor)) flatCalibrated++;
      tallies.calibrated.add(union(sets(responding, least * (1 + factor))));
    }
  }
  return {
    cell,
    envelope: tallies.envelope.result(),
    selected: tallies.selected.result(),
    truth: truth.family && truth.family !== "flat" ? tallies.truth.result() : null,
    calibrated: calibrate > 0 ? tallies.calibrated.result() : null,
    flatNotExcluded: flatNotExcluded / runs,
    flatCalibrated: calibrate > 0 ? flatCalibrated / runs : null,
  };
}

/** Economic optimum of a truth on the scaled density, by a dense search: 1e5 points. */
function economic({ yield: mean }, r) {
  let best = 0;
  const value = (u) => mean(u) - r * SPAN * u;
  for (let i = 0; i <= 100_000; i++) if (value(i / 100_000) > value(best) + 1e-12) best = i / 100_000;
  return best;
}

/** Bootstrap schemes and limits on one cell; selection-inclusive. */
export function bootstrapCell(cell, runs, stream, variants, resamples) {
  const data = layout(cell);
  const make = maker(cell, data, stream);
  const y = new Float64Array(data.density.length);
  const { optimum } = truths[cell.truth];
  const tallies = variants.map(() => tally(optimum));
  for (let run = 0; run < runs; run++) {
    make(y);
    const prepared = prepareIntervalData({ ...data, yield: y });
    const scalar = optimumScalar(prepared.design, 0);
    const drawn = new Map();
    variants.forEach(({ scheme, limits, multipliers }, v) => {
      const job = bootstrapJob(prepared, {
        scheme,
        limits,
        resamples,
        seed: run,
        ...(multipliers ? { multipliers } : {}),
      });
      const key = `${scheme} ${multipliers}`;
      if (!drawn.has(key)) drawn.set(key, drawStreams(job, 0, streamCount(job)));
      const { interval } = distribution(job, drawn.get(key), scalar);
      const u = (x, end) => (x === null ? end : (x - LOW) / SPAN);
      tallies[v].add({
        ranges: [[u(interval.lower, 0), u(interval.upper, 1)]],
        lowerOpen: interval.lowerOpen,
        upperOpen: interval.upperOpen,
      });
    });
  }
  return { cell, variants: variants.map((variant, v) => ({ ...variant, ...tallies[v].result() })) };
}

/** Envelope of derived quantities on one cell; each quantity with its true value on the truth's curve. */
export function quantityCell(cell, runs, stream, quantities) {
  const data = layout(cell);
  const make = maker(cell, data, stream);
  const y = new Float64Array(data.density.length);
  const { yield: mean } = truths[cell.truth];
  const at = (x) => mean((x - LOW) / SPAN);
  const counts = quantities.map(() => ({ covered: 0, open: 0, width: 0, bounded: 0, bootstrap: 0 }));
  for (let run = 0; run < runs; run++) {
    make(y);
    quantities.forEach(({ quantity, truth }, k) => {
      const interval = quantityInterval({ ...data, yield: y }, quantity);
      const value = truth(at);
      const held = (one) => (one.lower === null || one.lower <= value) && (one.upper === null || one.upper >= value);
      if (held(interval)) counts[k].covered++;
      if (interval.lowerOpen || interval.upperOpen) counts[k].open++;
      else {
        counts[k].bounded++;
        counts[k].width += interval.upper - interval.lower;
      }
      if (held(quantityInterval({ ...data, yield: y }, quantity, { method: "bootstrap", resamples: 999, seed: run })))
        counts[k].bootstrap++;
    });
  }
  return {
    cell,
    quantities: quantities.map(({ name }, k) => ({
      name,
      runs,
      coverage: counts[k].covered / runs,
      bootstrap: counts[k].bootstrap / runs,
      open: counts[k].open / runs,
      width: counts[k].bounded > 0 ? counts[k].width / counts[k].bounded : null,
    })),
  };
}
