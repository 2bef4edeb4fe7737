import { densityUnits } from "../trial/units.ts";
import { estimateSchema, type InputSchema } from "./inputSchema.ts";

const share = { exclusiveMinimum: 0, maximum: 1 } as const;
const amount = { minimum: 0 } as const;

const nutrient = (name: string): InputSchema => ({
  type: "object",
  description: `${name}: amounts per area and the share of each that a crop takes up`,
  properties: {
    soil: estimateSchema("amount in the soil, in supply.unit", amount),
    soilRecovery: estimateSchema("share of soil that the crop takes up, 0 to 1; default 1", { minimum: 0, maximum: 1 }),
    applied: estimateSchema("amount applied, in supply.unit", amount),
    recovery: estimateSchema("share of applied that the crop takes up, 0 to 1", { minimum: 0, maximum: 1 }),
  },
  additionalProperties: false,
  dependentRequired: { applied: ["recovery"] },
});

const perGrain: InputSchema = estimateSchema("uptake per unit of grain, in uptake.unit", { exclusiveMinimum: 0 });

/** Properties that a field and a zone share. */
export const sharedProperties: Readonly<Record<string, InputSchema>> = {
  environment: { type: "string", minLength: 1, description: "environment of the trial whose curve is used" },
  yieldGoal: {
    type: "number",
    exclusiveMinimum: 0,
    description: "yield expected at the best density, in the trial's yield unit",
  },
  establishment: estimateSchema("plants at harvest per seed planted, above 0 and up to 1", share),
  toleratedLodging: {
    type: "number",
    exclusiveMinimum: 0,
    exclusiveMaximum: 1,
    description: "share of lodged plants that is still accepted, such as 0.10",
  },
  nitrogenRate: {
    type: "number",
    minimum: 0,
    description: "nitrogen planned, in the unit of the trial's nitrogen column",
  },
  presentRate: { type: "number", exclusiveMinimum: 0, description: "seeds per area planted so far, in rateUnit" },
  supply: {
    type: "object",
    description: "nutrients available to one crop",
    properties: {
      unit: { type: "string", enum: ["lb/ac", "kg/ha"], description: "unit of all amounts" },
      N: nutrient("N"),
      P2O5: nutrient("P2O5"),
      K2O: nutrient("K2O"),
      S: nutrient("S"),
      rootingFactor: {
        type: "number",
        exclusiveMinimum: 0,
        maximum: 3,
        description: "factor on uptake from the soil; default 1",
      },
      uptake: {
        type: "object",
        description: "uptake of the whole crop per unit of grain",
        properties: {
          unit: { type: "string", enum: ["lb/bu", "kg/t"], description: "unit of the figures" },
          N: perGrain,
          P2O5: perGrain,
          K2O: perGrain,
          S: perGrain,
        },
        required: ["unit"],
        additionalProperties: false,
      },
    },
    required: ["unit"],
    additionalProperties: false,
  },
};

/** JSON Schema of the field given to `recommendRate` and to the command `recommend --field`. */
export const fieldSchema: InputSchema = {
  $schema: "https://json-schema.org/draft/2020-12/schema",
  $id: "standcurve/field/1",
  title: "One field and what its grower accepts",
  description: "a field: { hybrid, prices, presentRate, … }",
  type: "object",
  properties: {
    hybrid: { type: "string", minLength: 1, description: "hybrid to be planted, one of the trial's" },
    name: { type: "string", description: "name of the field" },
    ...sharedProperties,
    rateUnit: {
      type: "string",
      enum: densityUnits,
      description: "unit of the seeding rates; default the trial's density unit",
    },
    acceptedStep: {
      type: "number",
      minimum: 0,
      description: "largest change of rate accepted in one season, in rateUnit",
    },
    planterStep: { type: "number", exclusiveMinimum: 0, description: "rates are multiples of this, in rateUnit" },
    prices: {
      type: "object",
      description: "prices as the trade quotes them",
      properties: {
        grainPrice: estimateSchema("money per yield unit of the trial", { exclusiveMinimum: 0 }),
        seedCostPerThousand: estimateSchema("money per 1,000 seeds", amount),
        yieldCost: estimateSchema("drying and hauling, money per yield unit", amount),
      },
      required: ["grainPrice", "seedCostPerThousand"],
      additionalProperties: false,
    },
    currency: { type: "string", description: "sign or word for money" },
    lossPerLodgedPlant: {
      type: "number",
      minimum: 0,
      maximum: 1,
      description: "share of its grain that a lodged plant loses",
    },
  },
  required: ["hybrid"],
  additionalProperties: false,
};
