import type { LodgingCount } from "./trial.ts";

/** A row on its way to a plot: units and moisture settled, sub-samples and the density axis not yet. */
export interface Draft {
  readonly row: number;
  /** Lines that went into it; one until sub-samples are averaged. */
  readonly rows: readonly number[];
  readonly plot: string | null;
  readonly environment: string;
  readonly site: string | null;
  readonly year: string | null;
  readonly block: string;
  readonly hybrid: string;
  readonly seedingRate: number | null;
  readonly stand: number | null;
  readonly yield: number | null;
  /** Ground the yield was weighed on, m2, when known: sub-samples are averaged in proportion. */
  readonly area: number | null;
  readonly moisture: number | null;
  readonly testWeight: number | null;
  readonly weight: number;
  readonly lodging: readonly LodgingCount[];
  readonly traits: readonly (readonly [string, number | string])[];
  readonly position: { readonly row: number | null; readonly column: number | null; readonly order: number | null };
  readonly excluded: string | null;
}
