import { expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { fitBinomial } from "../../src/fit/fitBinomial.ts";
import { logit } from "../../src/fit/fitBinomialLinks.ts";
import { fitOrdinal, ordinalSeparation } from "../../src/fit/fitBinomialOrdinal.ts";
import { separation } from "../../src/fit/fitBinomialSeparation.ts";

const one = (n: number) => new Int32Array(n);

test("separation names its kind, direction and gap", () => {
  const trials = [40, 42, 45, 50, 52, 55];
  const x = [60, 70, 80, 90, 100, 110];
  expect(separation(x, [0, 0, 0, 50, 52, 55], trials, one(6), 1)).toEqual({
    kind: "density",
    direction: "rising",
    gap: [80, 90],
    blocks: [],
  });
  expect(separation(x, [40, 42, 45, 0, 0, 0], trials, one(6), 1)).toMatchObject({
    kind: "density",
    direction: "falling",
    gap: [80, 90],
  });
  expect(separation(x, [0, 0, 0, 0, 0, 12], trials, one(6), 1)).toMatchObject({
    kind: "density",
    direction: "rising",
    gap: [110, 110],
  });
  expect(separation(x, [0, 0, 0, 0, 0, 0], trials, one(6), 1)).toMatchObject({ kind: "no-events" });
  expect(separation(x, trials, trials, one(6), 1)).toMatchObject({ kind: "all-events" });
  expect(separation(x, [0, 0, 1, 0, 0, 12], trials, one(6), 1)).toBeNull();
});

test("a block without any event is found, and one density spread over blocks can hide a separation that blocks reveal", () => {
  const x = [1, 2, 3, 1, 2, 3];
  const block = Int32Array.of(0, 0, 0, 1, 1, 1);
  expect(separation(x, [0, 1, 3, 0, 0, 0], [5, 5, 5, 5, 5, 5], block, 2)).toEqual({
    kind: "block",
    direction: null,
    gap: null,
    blocks: [1],
  });
  // Block 0 lodges only above 2, block 1 only above 1: no common cut, yet each block is divided.
  expect(separation(x, [0, 0, 5, 0, 5, 5], [5, 5, 5, 5, 5, 5], block, 2)).toMatchObject({
    kind: "density",
    direction: "rising",
  });
  expect(separation(x, [0, 0, 5, 0, 5, 5], [5, 5, 5, 5, 5, 5], one(6), 1)).toMatchObject({ kind: "density" });
  expect(separation([1, 2, 3, 1.5, 2, 2.4], [0, 0, 5, 0, 5, 5], [5, 5, 5, 5, 5, 5], one(6), 1)).toMatchObject({
    kind: "density",
  });
  expect(separation([1, 2, 3, 0.5, 0.7, 1], [0, 0, 5, 0, 5, 5], [5, 5, 5, 5, 5, 5], one(6), 1)).toBeNull();
});

test("the verdict agrees with what scoring does on 400 small random data sets", () => {
  const random = streamRandom(11, 0);
  let separated = 0;
  for (let set = 0; set < 400; set++) {
    const blocks = 1 + random.below(2);
    const n = 6;
    const x = Float64Array.from({ length: n }, (_, i) => (i % 3) - 1);
    const block = Int32Array.from({ length: n }, (_, i) => (blocks === 1 ? 0 : Math.floor(i / 3)));
    const trials = Float64Array.from({ length: n }, () => 1 + random.below(3));
    const events = trials.map((m) => random.below(m + 1));
    const columns = blocks + 1;
    const design = new Float64Array(n * columns);
    for (let i = 0; i < n; i++) {
      design[i * columns + block[i]] = 1;
      design[i * columns + blocks] = x[i];
    }
    const verdict = separation(x, events, trials, block, blocks);
    const fit = fitBinomial({ design, columns, events, trials, link: logit }, { maxIterations: 60 });
    // A maximum at infinity shows as fitted shares that creep to 0 or 1, a unit of the link a step.
    const runaway = fit.fitted.some((p) => p < 1e-7 || p > 1 - 1e-7);
    expect(verdict !== null, JSON.stringify({ events: [...events], trials: [...trials], blocks })).toBe(runaway);
    if (verdict) separated++;
  }
  expect(separated).toBeGreaterThan(40);
  expect(separated).toBeLessThan(360);
});

test("ordinal separation agrees with what Newton does on 300 small random data sets", () => {
  const random = streamRandom(12, 0);
  let separated = 0;
  for (let set = 0; set < 300; set++) {
    const blocks = 1 + random.below(2);
    const n = 8;
    const x = Float64Array.from({ length: n }, (_, i) => (i % 4) - 1.5);
    const block = Int32Array.from({ length: n }, (_, i) => (blocks === 1 ? 0 : Math.floor(i / 4)));
    const raw = Array.from({ length: n }, (_, i) =>
      Math.min(2, Math.max(0, Math.floor((i % 4) / 2 + 1.6 * random.next()))),
    );
    const present = [...new Set(raw)].sort();
    if (present.length < 2) continue;
    const category = Int32Array.from(raw, (r) => present.indexOf(r));
    const columns = blocks;
    const design = new Float64Array(n * columns);
    for (let i = 0; i < n; i++) {
      design[i * columns] = x[i];
      if (block[i] > 0) design[i * columns + 1] = 1;
    }
    const verdict = ordinalSeparation(x, category, present.length, block, blocks);
    const fit = fitOrdinal({ design, columns, category, categories: present.length });
    const runaway = fit.status !== "converged" || [...fit.coef, ...fit.cuts].some((b) => Math.abs(b) > 12);
    expect(verdict !== null, JSON.stringify({ raw, blocks, coef: [...fit.coef] })).toBe(runaway);
    if (verdict) separated++;
  }
  expect(separated).toBeGreaterThan(30);
});
