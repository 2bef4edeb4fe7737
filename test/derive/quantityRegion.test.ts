import { expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { type CurveQuantity, quantityScalar } from "../../src/derive/quantity.ts";
import { quantityInterval } from "../../src/derive/quantityInterval.ts";
import { fitPrepared } from "../../src/fit/fitCurve.ts";
import { prepareData } from "../../src/fit/fitData.ts";
import { scalarSet } from "../../src/interval/scalarRegion.ts";
import { fQuantile, tQuantile } from "../../src/numeric/distributions.ts";
import { joinResponse } from "../../src/numeric/joinDesign.ts";
import { leastSquares } from "../../src/numeric/leastSquares.ts";
import { assertDigits } from "../assertDigits.ts";
import { dummies, plainRss } from "../bruteForce.ts";

type Family = "linear" | "quadratic" | "linear-plateau" | "quadratic-plateau";

interface Plots {
  readonly density: number[];
  readonly yield: number[];
  readonly block: number[];
}

function randomTrial(s: number, sd = 4): Plots {
  const random = streamRandom(31, s);
  const levels = [18, 23, 28, 33, 38, 43].slice(0, 4 + random.below(3)).map((x) => x + random.next());
  const join = 24 + 16 * random.next();
  const block: number[] = [];
  const density: number[] = [];
  for (let b = 0; b < 3; b++) {
    for (const x of levels) {
      if (random.below(12) === 0) continue;
      density.push(x);
      block.push(b);
    }
  }
  return {
    density,
    block,
    yield: density.map((x, i) => 195 - 0.1 * Math.max(join - x, 0) ** 2 + 4 * block[i] + sd * random.normal()),
  };
}

/** weights on (level, shape columns …) of a linear condition sum = target, given the shape columns as functions of density. */
type Condition = (shape: readonly ((x: number) => number)[]) => { level: number; shape: number[]; target: number };

/** For a stated value the quantity is a linear condition on level and slope once the join is given. */
function condition(quantity: CurveQuantity, value: number): Condition {
  switch (quantity.kind) {
    case "yield":
      return (h) => ({ level: 1, shape: h.map((f) => f(quantity.density)), target: value });
    case "gain":
      return (h) => ({ level: 0, shape: h.map((f) => f(quantity.to) - f(quantity.from)), target: value });
    case "flex-score": {
      const [x1, x2] = quantity.between;
      // Y2 = kappa Y1.
      const kappa = (x2 / x1) ** (1 - value / 100);
      return (h) => ({ level: 1 - kappa, shape: h.map((f) => f(x2) - kappa * f(x1)), target: 0 });
    }
    default:
      throw new Error("not a linear condition");
  }
}

/** Least RSS under the condition by eliminating one coefficient; `k` fixes the single shape coefficient. */
function conditioned(data: Plots, h: readonly ((x: number) => number)[], want: Condition, k?: number): number {
  const blocks = dummies(data.block);
  const one = data.density.map(() => 1);
  const { level, shape, target } = want(h);
  // The level is the mean of the block coefficients.
  let columns = [...blocks, ...h.map((f) => data.density.map(f))];
  let weights = [...blocks.map(() => level / blocks.length), ...shape];
  let y = data.yield;
  let goal = target;
  if (k !== undefined) {
    const fixed = columns[columns.length - 1];
    y = y.map((v, i) => v - k * fixed[i]);
    goal -= k * weights[weights.length - 1];
    columns = columns.slice(0, -1);
    weights = weights.slice(0, -1);
  }
  const p = weights.reduce((best, w, j) => (Math.abs(w) > Math.abs(weights[best]) ? j : best), 0);
  if (weights[p] === 0) return goal === 0 ? plainRss(columns, y, one) : Number.POSITIVE_INFINITY;
  const pivot = columns[p];
  const rest = columns.flatMap((column, j) =>
    j === p ? [] : [column.map((v, i) => v - (weights[j] / weights[p]) * pivot[i])],
  );
  return plainRss(
    rest,
    y.map((v, i) => v - (goal / weights[p]) * pivot[i]),
    one,
  );
}

/** Least RSS of a family whose quantity has the stated value, by a dense search over the join. */
function searched(family: Family, data: Plots, low: number, span: number, want: Condition): number {
  const u = (x: number): number => (x - low) / span;
  if (family === "linear") return conditioned(data, [u], want);
  if (family === "quadratic") return conditioned(data, [u, (x) => u(x) ** 2], want);
  const power = family === "linear-plateau" ? 1 : 2;
  const rising = (h: (x: number) => number): number => {
    const at = (k: number): number => conditioned(data, [h], want, k);
    const { level, shape } = want([h]);
    // Without the level in the condition the slope is settled by it.
    if (level === 0)
      return shape[0] === 0 || want([h]).target / shape[0] < 0
        ? Number.POSITIVE_INFINITY
        : conditioned(data, [h], want);
    const [a, b, c] = [at(0), at(1), at(2)];
    const curve = (a - 2 * b + c) / 2;
    return at(Math.max((3 * a - 4 * b + c) / (4 * curve), 0));
  };
  const at = (join: number): number =>
    rising((x) => -(Math.max(join - u(x), 0) ** power) / Math.max(join, 1) ** (power - 1));
  const grid = Array.from({ length: 150 }, (_, i) => 0.002 + (0.998 * i) / 149);
  if (power === 2) grid.push(...Array.from({ length: 60 }, (_, i) => 1 / (1 - (i + 1) / 61)));
  const values = grid.map(at);
  const best = values.indexOf(Math.min(...values));
  let a = grid[Math.max(best - 1, 0)];
  let b = grid[Math.min(best + 1, grid.length - 1)];
  for (let i = 0; i < 45; i++) {
    const left = b - 0.618 * (b - a);
    const right = a + 0.618 * (b - a);
    if (at(left) < at(right)) b = right;
    else a = left;
  }
  return Math.min(values[best], at((a + b) / 2), power === 2 ? rising(u) : Number.POSITIVE_INFINITY);
}

const quantities: readonly CurveQuantity[] = [
  { kind: "yield", density: 27 },
  { kind: "gain", from: 22, to: 31 },
  { kind: "flex-score", between: [20, 32] },
];

for (const family of ["linear", "quadratic", "linear-plateau", "quadratic-plateau"] as const) {
  test(`the ${family} set of yields, gains and flex scores is the set a dense constrained search accepts`, () => {
    let inside = 0;
    let outside = 0;
    for (let s = 0; s < 4; s++) {
      const data = randomTrial(s);
      const prepared = prepareData(data);
      const { design } = prepared;
      const cutoff = (fitPrepared(family, prepared).rss as number) * 1.3;
      for (const quantity of quantities) {
        const set = scalarSet(
          family,
          design,
          joinResponse(design, prepared.y),
          quantityScalar(design, quantity),
          cutoff,
        );
        const [low, high] = [set.ranges[0][0], set.ranges[set.ranges.length - 1][1]];
        for (const share of [-0.2, -0.01, 0.01, 0.3, 0.6, 0.99, 1.01, 1.3]) {
          const value = low + share * (high - low);
          const rss = searched(family, data, design.low, design.span, condition(quantity, value));
          if (Math.abs(rss / cutoff - 1) < 1e-6) continue;
          const accepted = set.ranges.some(([from, to]) => value >= from && value <= to);
          expect(accepted, `${quantity.kind}, set ${s}, value ${value}, RSS ${rss} against ${cutoff}`).toBe(
            rss < cutoff,
          );
          if (accepted) inside++;
          else outside++;
        }
      }
    }
    expect(Math.min(inside, outside)).toBeGreaterThan(30);
  });
}

test("the profile interval of a line's yield and of a parabola's gain is the t interval of linear regression", () => {
  for (let s = 0; s < 8; s++) {
    const data = randomTrial(s);
    const prepared = prepareData(data);
    for (const [family, quantity] of [
      ["linear", { kind: "yield", density: 30 }],
      ["quadratic", { kind: "gain", from: 22, to: 31 }],
    ] as const) {
      const degree = family === "linear" ? 1 : 2;
      const blocks = dummies(data.block);
      const powers = Array.from({ length: degree }, (_, j) => data.density.map((x) => (x - 30) ** (j + 1)));
      const fit = leastSquares([...blocks, ...powers], data.yield);
      const weights =
        quantity.kind === "yield"
          ? [...blocks.map(() => 1 / blocks.length), 0]
          : [...blocks.map(() => 0), 1 - -8 - 0, 1 - 64];
      const p = weights.length;
      let estimate = 0;
      let variance = 0;
      const cov = fit.vcov as unknown as number[][];
      for (let i = 0; i < p; i++) {
        estimate += weights[i] * fit.coef[i];
        for (let j = 0; j < p; j++) variance += weights[i] * weights[j] * cov[i][j];
      }
      const half = tQuantile(0.975, data.density.length - p) * Math.sqrt(variance);
      const interval = quantityInterval(data, quantity, { method: "profile", family });
      assertDigits(interval.lower, estimate - half, 8, `${family}, set ${s}, lower`);
      assertDigits(interval.upper, estimate + half, 8, `${family}, set ${s}, upper`);
      expect(prepared.design.nobs).toBe(data.density.length);
    }
  }
});

test("the envelope holds the profile sets of all families at its own cut-off", () => {
  for (let s = 0; s < 10; s++) {
    const data = randomTrial(s);
    const prepared = prepareData(data);
    const { design } = prepared;
    const fits = (["flat", "linear", "quadratic", "linear-plateau", "quadratic-plateau"] as const).map((f) =>
      fitPrepared(f, prepared),
    );
    const dof = Math.min(...fits.map((fit) => fit.dofResidual));
    const cutoff = Math.min(...fits.map((fit) => fit.rss as number)) * (1 + fQuantile(0.95, 1, dof) / dof);
    const quantity = { kind: "flex-score", between: [20, 32] } as const;
    const sets = fits.map((fit) =>
      scalarSet(
        fit.family as Family,
        design,
        joinResponse(design, prepared.y),
        quantityScalar(design, quantity),
        cutoff,
      ),
    );
    const ranges = sets.flatMap((set) => [...set.ranges]);
    const envelope = quantityInterval(data, quantity, { calibrate: false });
    assertDigits(envelope.lower, Math.min(...ranges.map(([from]) => from)), 9);
    assertDigits(envelope.upper, Math.max(...ranges.map(([, to]) => to)), 9);
  }
});
