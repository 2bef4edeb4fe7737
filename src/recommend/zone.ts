import type { Issue } from "../core/issue.ts";
import type { DensityUnit, YieldUnit } from "../trial/trial.ts";
import type { AreaUnit } from "../trial/units.ts";
import type { Field } from "./field.ts";

/** One zone of a field: its area, and what differs there from the field as a whole. */
export interface Zone {
  readonly id: string;
  readonly area: number;
  readonly areaUnit: AreaUnit;
  readonly hybrid?: string;
  readonly environment?: string;
  readonly yieldGoal?: number;
  /** Unit of `yieldGoal`; default the trial's. */
  readonly yieldUnit?: YieldUnit;
  readonly establishment?: number;
  readonly toleratedLodging?: number;
  readonly presentRate?: number;
  /** Unit of `presentRate`; default the field's rate unit. */
  readonly rateUnit?: DensityUnit;
  readonly nitrogenRate?: number;
  readonly supply?: NonNullable<Field["supply"]>;
}

/** Where zones came from, so that they can be written back with everything they had. */
export type ZoneSource =
  | { readonly kind: "csv"; readonly header: readonly string[]; readonly rows: readonly (readonly string[])[] }
  | { readonly kind: "geojson"; readonly collection: GeoJsonCollection };

/** A GeoJSON feature collection (RFC 7946), foreign members kept. */
export interface GeoJsonCollection {
  readonly type: "FeatureCollection";
  readonly features: readonly GeoJsonFeature[];
  readonly [member: string]: unknown;
}

export interface GeoJsonFeature {
  readonly type: "Feature";
  readonly geometry: unknown;
  readonly properties: Readonly<Record<string, unknown>> | null;
  readonly [member: string]: unknown;
}

/** Zones with everything found wrong; `zones` is null when there is an error. */
export interface ZoneReading {
  readonly zones: readonly Zone[] | null;
  /** Null when the text is no table and no feature collection. */
  readonly source: ZoneSource | null;
  readonly issues: readonly Issue[];
}
