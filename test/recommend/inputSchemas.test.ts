import { readFileSync } from "node:fs";
import { Ajv2020 } from "ajv/dist/2020.js";
import fc from "fast-check";
import { expect, test } from "vitest";
import { fieldSchema } from "../../src/recommend/fieldSchema.ts";
import { readField } from "../../src/recommend/readField.ts";
import { checkZones } from "../../src/recommend/readZones.ts";
import { zoneFileSchema, zoneSchema } from "../../src/recommend/zoneSchema.ts";

const demo = (name: string): unknown =>
  JSON.parse(readFileSync(new URL(`../../data-demo/${name}`, import.meta.url), "utf8"));
const ajv = new Ajv2020({ strict: false, allErrors: true });
const validField = ajv.compile(fieldSchema);
const validZone = ajv.compile(zoneSchema);

test("the demo files fit their schemas", () => {
  expect(validField(demo("field.json"))).toBe(true);
  expect(ajv.validate(zoneFileSchema as object, demo("zones.geojson"))).toBe(true);
  expect(readField(demo("field.json")).issues).toEqual([]);
});

/** Values that are often right and often wrong. */
const number = fc.constantFrom<unknown>(-1, 0, 0.1, 0.5, 1, 1.2, 30, "30", null, Number.NaN);
const range = fc.record({ lowest: number, likely: number, highest: number }, { requiredKeys: [] });
const estimate = fc.oneof(number, range);
const nutrient = fc.record(
  { soil: estimate, soilRecovery: estimate, applied: estimate, recovery: estimate },
  { requiredKeys: [] },
);
const shared = {
  environment: fc.constantFrom<unknown>("East", "", 3),
  yieldGoal: number,
  toleratedLodging: number,
  presentRate: number,
  supply: fc.record(
    {
      unit: fc.constantFrom<unknown>("lb/ac", "kg/ha", "lb"),
      K2O: nutrient,
      rootingFactor: number,
      uptake: fc.record({ unit: fc.constantFrom("lb/bu", "x"), K2O: estimate }, { requiredKeys: [] }),
    },
    { requiredKeys: [] },
  ),
};
const field = fc.record(
  {
    ...shared,
    hybrid: fc.constantFrom<unknown>("A", "", 1),
    establishment: estimate,
    planterStep: number,
    acceptedStep: number,
    rateUnit: fc.constantFrom<unknown>("plants/ha", "seeds"),
    prices: fc.record(
      { grainPrice: estimate, seedCostPerThousand: estimate, yieldCost: estimate },
      { requiredKeys: [] },
    ),
    other: number,
  },
  { requiredKeys: ["hybrid"] },
);

/** A JSON Schema cannot say that three figures are in order; our check does. */
const inOrder = (issues: readonly { code: string }[]): boolean =>
  issues.some(({ code }) => code === "range-out-of-order");

test("our check of a field accepts and refuses what a JSON Schema validator does", () => {
  fc.assert(
    fc.property(field, (value) => {
      const { issues } = readField(value);
      if (issues.length > 0 && issues.every(({ code }) => code === "range-out-of-order")) return;
      expect(issues.length === 0).toBe(validField(value));
      expect(inOrder(issues) && issues.length === 1).toBe(false);
    }),
    { numRuns: 500 },
  );
});

test("our check of a zone accepts and refuses what a JSON Schema validator does", () => {
  const zone = fc.record(
    {
      ...shared,
      id: fc.constantFrom<unknown>("a", "", 1),
      area: number,
      areaUnit: fc.constantFrom<unknown>("ac", "ha", "yd2"),
      establishment: number,
    },
    { requiredKeys: ["id", "area"] },
  );
  fc.assert(
    fc.property(zone, (value) => {
      const issues = checkZones([value]).filter(({ code }) => code !== "range-out-of-order");
      if (inOrder(checkZones([value]))) return;
      expect(issues.length === 0).toBe(validZone(value));
    }),
    { numRuns: 300 },
  );
});

test("every problem is listed with its path and what it means", () => {
  const { field: read, issues } = readField({
    hybrid: "A",
    planterStep: 0,
    supply: { unit: "lb", K2O: { applied: 3 } },
    typo: 1,
  });
  expect(read).toBeNull();
  expect(issues.map(({ column, code }) => [column, code])).toEqual([
    ["planterStep", "out-of-bounds"],
    ["supply.unit", "unknown-word"],
    ["supply.K2O.recovery", "missing-value"],
    ["typo", "unknown-property"],
  ]);
  expect(readField("{").issues[0].code).toBe("not-json");
});
