import { expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { flexScore } from "../../src/derive/flexScore.ts";
import { influence } from "../../src/derive/influence.ts";
import { moveInWords } from "../../src/derive/influenceDecision.ts";
import { agronomicOptimum, economicOptimum } from "../../src/derive/optimum.ts";
import { compareCurves } from "../../src/fit/compareCurves.ts";
import { assertDigits } from "../assertDigits.ts";

function trial(seed: number, blocks = ["1", "2"]) {
  const random = streamRandom(seed, 0);
  const density: number[] = [];
  const block: string[] = [];
  const environment: string[] = [];
  const yields: number[] = [];
  for (const site of ["north", "south"]) {
    for (const b of blocks) {
      for (const x of [18, 23, 28, 33, 38, 43]) {
        density.push(x);
        block.push(b);
        environment.push(site);
        yields.push(198 - 0.1 * Math.max(34 - x, 0) ** 2 + (site === "north" ? 9 : 0) + 4 * random.normal());
      }
    }
  }
  return { density, block, environment, yield: yields };
}

test("every decision without some plots is what the public functions give on the rest", () => {
  const data = trial(2);
  const between = [23, 38] as const;
  const result = influence(data, { priceRatio: 0.5, between });
  expect(result.leftOut.length).toBe(24 + 6 + 4 + 2);
  for (const one of result.leftOut) {
    const keep = data.density.flatMap((x, i) => {
      const label = {
        plot: String(i + 1),
        density: String(x),
        block: `${data.environment[i]} / ${data.block[i]}`,
        environment: data.environment[i],
      }[one.unit];
      return label === one.label ? [] : [i];
    });
    expect(keep.length).toBe(24 - one.plots);
    const rest = {
      density: keep.map((i) => data.density[i]),
      yield: keep.map((i) => data.yield[i]),
      block: keep.map((i) => `${data.environment[i]} ${data.block[i]}`),
    };
    const { fits, best } = compareCurves(rest);
    const fit = fits.find((candidate) => candidate.family === best);
    if (!fit) throw new Error("no fit");
    expect(one.decision?.family).toBe(best);
    expect(one.decision?.agronomic.density).toBe(agronomicOptimum(fit).density);
    const economic = economicOptimum(fit, { grainPrice: 1, seedCost: 0.5 });
    assertDigits(one.decision?.economic?.density, economic.density as number, 12);
    expect(one.decision?.flexScore).toBe(flexScore(fit, { between }).score);
    if (one.shift.economic !== null) {
      assertDigits(one.shift.economic + (result.decision.economic?.density as number), economic.density as number, 12);
    }
  }
});

test("a spoiled block is named first, in words", () => {
  const data = trial(5, ["1", "2", "3", "4"]);
  const yields = data.yield.map((y, i) =>
    data.environment[i] === "south" && data.block[i] === "2" ? y - 2.5 * (data.density[i] - 18) : y,
  );
  const { worst, sentences } = influence({ ...data, yield: yields }, { priceRatio: 0.4, densityUnit: "thousand" });
  const blocks = worst.filter((one) => one.unit === "block");
  expect(blocks[0].label).toBe("south / 2");
  expect(sentences.join("\n")).toMatch(
    /without block south \/ 2 the economic optimum rises from [\d.]+ to [\d.]+ thousand/,
  );
});

test("an even trial says that nothing matters", () => {
  const density = [18, 23, 28, 33, 38, 43].flatMap((x) => Array<number>(6).fill(x));
  const yields = density.map((x, i) => 198 - 0.1 * (34 - x) ** 2 + (i % 2 ? 0.2 : -0.2));
  const { worst, sentences } = influence({ density, yield: yields });
  expect(worst).toEqual([]);
  expect(sentences[0]).toContain("less than 5 %");
});

test("a rest that cannot carry a curve is said, not guessed", () => {
  const { leftOut } = influence({
    density: [18, 28, 38, 18, 28, 38],
    yield: [170, 190, 195, 172, 188, 197],
    block: [1, 1, 1, 2, 2, 2],
  });
  const block = leftOut.find((one) => one.unit === "block");
  expect(block?.decision).toBeNull();
  expect(block?.reason).toContain("too few");
});

test("moves in words", () => {
  const inside = (density: number) => ({ kind: "interior", density }) as const;
  expect(moveInWords(inside(33.14), inside(30.42), "thousand")).toBe("falls from 33.1 to 30.4 thousand");
  expect(moveInWords(inside(33.14), { kind: "upper-edge", density: 43 }, "")).toBe("rises from 33.1 to 43 or more");
  expect(moveInWords(inside(33.14), inside(33.12), "")).toBe("stays at 33.1");
  expect(moveInWords(inside(33.14), { kind: "none", density: null }, "")).toBe(
    "changes from 33.1 to no optimum (no response)",
  );
});
