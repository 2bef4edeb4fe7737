import type { Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { LodgingData } from "./lodgingFit.ts";

/** Counts per plot; parallel arrays. */
export interface LodgingInput {
  /** Plants or seeds per area, any unit. */
  readonly density: ArrayLike<number>;
  /** Lodged plants, 0 <= lodged <= examined; the share 0..1 where plants were not counted. */
  readonly lodged: ArrayLike<number>;
  /** Plants looked at, > 0; null (for all plots) when only shares are known. */
  readonly examined: ArrayLike<number | null> | null;
  /** Block or environment of each plot; default: one block. */
  readonly block?: ArrayLike<string | number>;
}

/** What `LodgingInput` must look like. */
export const lodgingInputShape: { readonly [property: string]: Shape } = {
  density: "numbers",
  lodged: "numbers",
  examined: "any|null",
  block: "labels?",
};

/**
 * Checks the counts of a lodging fit and copies them.
 *
 * @throws AnalysisError `length-mismatch`; `invalid-data`; `not-offered` when counts and shares are mixed
 */
export function readLodging({ density, lodged, examined, block }: LodgingInput): LodgingData {
  const n = density.length;
  check(n > 0, "invalid-data", "density is empty");
  check(lodged.length === n, "length-mismatch", `density has ${n} values but lodged has ${lodged.length}`);
  check(
    !examined || examined.length === n,
    "length-mismatch",
    `density has ${n} values but examined has ${examined?.length}`,
  );
  check(!block || block.length === n, "length-mismatch", `density has ${n} values but block has ${block?.length}`);
  const counted = examined !== null && Array.from(examined).some((m) => m !== null);
  for (let i = 0; i < n; i++) {
    check(Number.isFinite(density[i]), "invalid-data", `density[${i}] must be a finite number, got ${density[i]}`);
    const m = counted ? examined[i] : 1;
    check(
      m !== null,
      "not-offered",
      `plots with counts and plots with shares cannot be mixed in one fit (examined[${i}] is null)`,
    );
    check(Number.isFinite(m) && m > 0, "invalid-data", `examined[${i}] must be above 0, got ${m}`);
    check(
      lodged[i] >= 0 && lodged[i] <= m,
      "invalid-data",
      `lodged[${i}] must be between 0 and ${m}, got ${lodged[i]}`,
    );
  }
  return {
    density: Array.from(density),
    lodged: Array.from(lodged),
    examined: counted ? Array.from(examined as ArrayLike<number>) : null,
    block: block ? Array.from(block, String) : new Array<string>(n).fill("1"),
  };
}
