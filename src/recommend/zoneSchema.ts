import { densityUnits, yieldUnits } from "../trial/units.ts";
import { sharedProperties } from "./fieldSchema.ts";
import type { InputSchema } from "./inputSchema.ts";

/** JSON Schema of one zone as `planZones` takes it. */
export const zoneSchema: InputSchema = {
  $schema: "https://json-schema.org/draft/2020-12/schema",
  $id: "standcurve/zone/1",
  title: "One zone of a field",
  description: "a zone: { id, area, areaUnit, … }",
  type: "object",
  properties: {
    id: { type: "string", minLength: 1, description: "name or number of the zone" },
    area: { type: "number", exclusiveMinimum: 0, description: "area in areaUnit" },
    areaUnit: { type: "string", enum: ["ac", "ha", "m2", "ft2"], description: "unit of the area" },
    hybrid: { type: "string", minLength: 1, description: "hybrid of this zone" },
    ...sharedProperties,
    establishment: {
      type: "number",
      exclusiveMinimum: 0,
      maximum: 1,
      description: "plants at harvest per seed planted",
    },
    yieldUnit: { type: "string", enum: yieldUnits, description: "unit of yieldGoal; default the trial's" },
    rateUnit: { type: "string", enum: densityUnits, description: "unit of presentRate; default the field's" },
  },
  required: ["id", "area", "areaUnit"],
  additionalProperties: false,
};

const cell = (description: string): Readonly<Record<string, unknown>> => ({
  type: ["number", "string", "null"],
  description,
});

/**
 * JSON Schema of a zone file: a GeoJSON feature collection whose features' properties name the zone's figures. Names are read whatever
 * their case and separators, with a unit at the end where one is needed (area_ha, yield_goal_bu_ac); other properties are kept.
 */
export const zoneFileSchema: Readonly<Record<string, unknown>> = {
  $schema: "https://json-schema.org/draft/2020-12/schema",
  $id: "standcurve/zones/1",
  title: "Zones of a field as GeoJSON (RFC 7946)",
  type: "object",
  required: ["type", "features"],
  properties: {
    type: { const: "FeatureCollection" },
    features: {
      type: "array",
      minItems: 1,
      items: {
        type: "object",
        required: ["type", "geometry", "properties"],
        properties: {
          type: { const: "Feature" },
          geometry: {
            anyOf: [
              { type: "null" },
              {
                type: "object",
                required: ["type", "coordinates"],
                properties: { type: { enum: ["Polygon", "MultiPolygon"] }, coordinates: { type: "array" } },
              },
            ],
          },
          properties: {
            type: ["object", "null"],
            properties: {
              zone: cell("name or number of the zone; default its place in the file"),
              area_ac: cell("area; default: that of the polygon"),
              area_ha: cell("area in hectares"),
              yield_goal: cell("yield expected at the best density, in the trial's yield unit"),
              establishment: cell("plants at harvest per seed planted, 0 to 1"),
              tolerated_lodging: cell("share of lodged plants still accepted, 0 to 1"),
              present_rate: cell("seeds per area planted so far, in the field's rate unit"),
              environment: cell("environment of the trial whose curve is used"),
              hybrid: cell("hybrid of this zone"),
              nitrogen_rate: cell("nitrogen planned, in the unit of the trial's nitrogen column"),
              supply_unit: cell("lb/ac or kg/ha; needed with amounts of nutrients"),
              k2o_soil: cell("K2O in the soil; also n_, p2o5_ and s_"),
              k2o_soil_recovery: cell("share of it that a crop takes up"),
              k2o_applied: cell("K2O applied"),
              k2o_recovery: cell("share of the applied that a crop takes up"),
            },
          },
        },
      },
    },
  },
};
