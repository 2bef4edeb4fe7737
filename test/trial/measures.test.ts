import { expect, test } from "vitest";
import { cropTable, findCrop } from "../../src/trial/crops.ts";
import { standardMoistureYield } from "../../src/trial/moisture.ts";
import { shrink, waterShrinkPerPoint } from "../../src/trial/shrink.ts";
import { rowLengthForArea, seedingRateFor } from "../../src/trial/stand.ts";
import { assertDigits } from "../assertDigits.ts";

test("10,000 lb at 20 % are 9,467.456 lb at 15.5 %, not the 9,240 of the common mistake", () => {
  // Florida extension sheet AG442 (inputs and the wrong figure); the right figure from R, seven digits.
  assertDigits(standardMoistureYield(10_000, 20, 15.5), 9467.4556, 8);
});

test("a 56-lb bushel at 15.5 % weighs 52.578 lb at 10 %, 63.093 at 25 % and 67.600 at 30 %", () => {
  // Computed in R from the identity; soybean 60 lb at 13 % = 63.659 at 18 %, wheat 60 lb at 13.5 % = 63.293 at 18 %.
  for (const [moisture, pounds] of [
    [10, 52.578],
    [25, 63.093],
    [30, 67.6],
  ] as const) {
    expect(standardMoistureYield(56, 15.5, moisture)).toBeCloseTo(pounds, 3); // three decimals are printed
  }
  expect(standardMoistureYield(60, 13, 18)).toBeCloseTo(63.659, 3);
  expect(standardMoistureYield(60, 13.5, 18)).toBeCloseTo(63.293, 3);
});

test("moisture of 100 % or more is refused", () => {
  expect(() => standardMoistureYield(1, 100, 15.5)).toThrowError(expect.objectContaining({ code: "invalid-data" }));
  expect(() => standardMoistureYield(1, 20, Number.NaN)).toThrow("got NaN");
});

test("1/1000 acre is 17.424 ft of 30-inch rows and 34.848 ft of 15-inch rows", () => {
  // Tennessee extension (Checking corn populations, 2011) prints 17 ft 5 in; Nebraska 2009 the rest of the table.
  const acre = { value: 0.001, unit: "ac" } as const;
  const feet: readonly (readonly [number, number])[] = [
    [7.5, 69.696],
    [10, 52.272],
    [15, 34.848],
    [20, 26.136],
    [22, 23.76],
    [30, 17.424],
    [36, 14.52],
    [40, 13.068],
  ];
  for (const [inches, expected] of feet)
    assertDigits(rowLengthForArea(acre, { value: inches, unit: "in" }, "ft"), expected, 12);
});

test("1/1000 hectare is 13.333 m of 75-cm rows, 20 m of 50-cm rows", () => {
  const hectare = { value: 0.001, unit: "ha" } as const;
  assertDigits(rowLengthForArea(hectare, { value: 75, unit: "cm" }, "m"), 40 / 3, 12);
  assertDigits(rowLengthForArea(hectare, { value: 50, unit: "cm" }, "m"), 20, 12);
});

test("32,000 plants from seed of 95 % germination and 95 % survival need 35,457 seeds", () => {
  // Ohio extension formula, 2011; 35,457.06 to the cent.
  expect(seedingRateFor(32_000, 0.95, 0.95)).toBeCloseTo(35_457.06, 2);
  expect(() => seedingRateFor(32_000, 95, 0.95)).toThrow("95 % is 0.95");
});

test("water shrink per point is 1.183, 1.176 and 1.163 for 15.5, 15 and 14 %", () => {
  // South Dakota extension, printed to three decimals.
  expect(waterShrinkPerPoint(15.5)).toBeCloseTo(1.183, 3);
  expect(waterShrinkPerPoint(15)).toBeCloseTo(1.176, 3);
  expect(waterShrinkPerPoint(14)).toBeCloseTo(1.163, 3);
});

test("1,000 lb at 25.5 %, 1.183 a point and 0.5 % handling leave 876.70 lb, 15.6554 bushels", () => {
  // National Corn Handbook NCH-61 rule, South Dakota figures.
  const paid = shrink(1000, { moisture: 25.5, target: 15.5, perPoint: 1.183, handling: 0.5 });
  assertDigits(paid, 876.7, 12);
  assertDigits(paid / 56, 15.6554, 5);
  assertDigits(shrink(1000, { moisture: 25.5, target: 15.5 }), standardMoistureYield(1000, 25.5, 15.5), 12); // water only
});

test("190 bushels at 15 % are 215.87 wet bushels at 25 %, of which an elevator at 1.4 % a point pays 185.65", () => {
  // Illinois farm economics note FEFO 09-16 (2009), printed 216 and 186.
  const wet = standardMoistureYield(190, 15, 25) / (1 - 0.0025);
  expect(wet).toBeCloseTo(215.873, 2);
  expect(shrink(wet, { moisture: 25, target: 15, perPoint: 1.4 })).toBeCloseTo(185.651, 2);
});

test("grain drier than the target gains nothing from shrink", () => {
  expect(shrink(1000, { moisture: 12, target: 15.5 })).toBe(1000);
});

test("the crop table holds the official bushel weights and finds crops by other names", () => {
  // Official weights per bushel: wheat and soybean 60, maize, sorghum and rye 56, barley 48, oats 32, rice 45.
  const pounds = Object.fromEntries(cropTable.map((crop) => [crop.name, crop.poundsPerBushel]));
  expect(pounds).toMatchObject({
    maize: 56,
    soybean: 60,
    wheat: 60,
    "grain sorghum": 56,
    rye: 56,
    barley: 48,
    oats: 32,
    rice: 45,
  });
  expect(findCrop(" Winter_Wheat ")?.name).toBe("wheat");
  expect(findCrop("CORN")?.standardMoisture).toBe(15.5);
  expect(findCrop("__proto__")).toBeNull();
  for (const crop of cropTable) expect(crop.source, crop.name).not.toBe("");
});
