import fc from "fast-check";
import { expect, test } from "vitest";
import { convertDensity, convertYield, densityUnits, yieldColumnUnits } from "../../src/trial/units.ts";
import { assertDigits } from "../assertDigits.ts";

const crop = (poundsPerBushel: number) => ({ name: "crop", poundsPerBushel, standardMoisture: 13 });

// Exact from 1 lb = 0.45359237 kg (1959 yard and pound agreement) and 1 ac = 4046.8564224 m2; the digits are those of the
// project's check list (bu/ac to Mg/ha .0627676647 for 56 lb and so on), computed there in R.
test("a bushel per acre is the published number of Mg per hectare", () => {
  for (const [pounds, value] of [
    [56, 0.0627676647],
    [60, 0.0672510694],
    [48, 0.0538008555],
    [32, 0.035867237],
  ] as const) {
    assertDigits(convertYield(1, "bu/ac", "t/ha", crop(pounds)), value, 9);
  }
});

test("a tonne holds 39.3682611 bushels of maize and 36.7437104 of wheat", () => {
  const acresPerHectare = 10_000 / 4046.8564224;
  assertDigits(convertYield(1, "t/ha", "bu/ac", crop(56)) * acresPerHectare, 39.3682611, 8);
  assertDigits(convertYield(1, "t/ha", "bu/ac", crop(60)) * acresPerHectare, 36.7437104, 8);
});

test("a pound per acre is 1.12085116 kg/ha, 1000 plants/ac are 0.247105381 plants/m2 and 2,471.05 plants/ha", () => {
  assertDigits(convertYield(1, "lb/ac", "kg/ha"), 1.12085116, 8);
  assertDigits(convertDensity(1, "1000 plants/ac", "plants/m2"), 0.247105381, 8);
  assertDigits(convertDensity(1, "1000 plants/ac", "plants/ha"), 2471.05, 5);
});

test("metric units differ by powers of ten only, and plants by their thousands", () => {
  expect(convertYield(12.5, "t/ha", "kg/ha")).toBe(12500);
  expect(convertYield(12.5, "t/ha", "g/m2")).toBe(1250);
  expect(convertYield(75, "dt/ha", "t/ha")).toBe(7.5);
  assertDigits(convertYield(55, "cwt/ac", "lb/ac"), 5500, 15);
  expect(convertDensity(34567, "plants/ac", "1000 plants/ac")).toBe(34.567);
  expect(convertDensity(8, "plants/m2", "plants/ha")).toBe(80000);
});

test("any conversion and its reverse give the value back to 14 digits", () => {
  fc.assert(
    fc.property(
      fc.constantFrom(...yieldColumnUnits),
      fc.constantFrom(...yieldColumnUnits),
      fc.constantFrom(...densityUnits),
      fc.constantFrom(...densityUnits),
      fc.double({ min: 1e-6, max: 1e9, noNaN: true }),
      (a, b, c, d, value) => {
        assertDigits(convertYield(convertYield(value, a, b, crop(56)), b, a, crop(56)), value, 14);
        assertDigits(convertDensity(convertDensity(value, c, d), d, c), value, 14);
      },
    ),
  );
});

test("bushels of a crop without a bushel weight are the caller's mistake, and so is an unknown unit", () => {
  expect(() => convertYield(1, "bu/ac", "t/ha")).toThrowError(expect.objectContaining({ code: "invalid-option" }));
  expect(() =>
    convertYield(1, "t/ha", "bu/ac", { name: "sunflower", poundsPerBushel: null, standardMoisture: 10 }),
  ).toThrow('"sunflower" has none');
  expect(() => convertDensity(1, "plants/mile" as never, "plants/ac")).toThrow('got "plants/mile"');
});
