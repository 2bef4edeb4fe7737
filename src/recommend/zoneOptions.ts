import type { Shape } from "../core/checkShape.ts";
import type { Field } from "./field.ts";
import { type RecommendOptions, recommendOptionsShape } from "./recommendOptions.ts";

export interface ZoneOptions extends RecommendOptions {
  /** What holds for the whole field; its `hybrid` may be left out when the trial has one only, or every zone names its own. */
  readonly field?: Partial<Field>;
  /** Seeds in a unit of seed; default 80,000 for maize (extension), else unknown. */
  readonly seedsPerUnit?: number;
  /** Money per area (of the yield unit) that varying the rate costs; default 0. */
  readonly costOfVarying?: number;
}

/** What `ZoneOptions` must look like. */
export const zoneOptionsShape: { readonly [property: string]: Shape } = {
  ...recommendOptionsShape,
  field: "any?",
  seedsPerUnit: "number?",
  costOfVarying: "number?",
};
