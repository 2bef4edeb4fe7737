import { AnalysisError, check } from "../core/errors.ts";

export type EarComponent = "earsPerPlant" | "rowsPerEar" | "kernelsPerRow" | "kernelMass";

export const earComponentNames: readonly EarComponent[] = ["earsPerPlant", "rowsPerEar", "kernelsPerRow", "kernelMass"];

/** Ear counts of one plot (or of one density's mean). */
export interface EarRow {
  readonly hybrid?: string;
  readonly block?: string | number;
  /** Plants per area, any unit, the same for all rows. */
  readonly density: number;
  /** Ears with grain / plants; or give `ears` and `plants`. */
  readonly earsPerPlant?: number;
  readonly ears?: number;
  readonly plants?: number;
  readonly rowsPerEar: number;
  readonly kernelsPerRow: number;
  /** Mass of one kernel, mg, at the moisture at which yield is stated. */
  readonly kernelMass: number;
  /** Grain per plant as weighed, g, for the closure check; yield per area / plants per area. */
  readonly weighedPerPlant?: number | null;
}

export interface EarValues {
  readonly hybrid: string;
  readonly block: string;
  readonly density: number;
  readonly earsPerPlant: number;
  readonly rowsPerEar: number;
  readonly kernelsPerRow: number;
  readonly kernelMass: number;
  readonly weighedPerPlant: number | null;
}

/**
 * Rows with ears per plant worked out.
 *
 * @throws AnalysisError `invalid-data` listing every value that is not a number above 0
 */
export function componentValues(rows: readonly EarRow[]): EarValues[] {
  check(rows.length > 0, "invalid-data", "earComponents needs at least one row");
  const problems: string[] = [];
  const positive = (value: unknown, name: string, row: number): number => {
    if (typeof value === "number" && value > 0 && Number.isFinite(value)) return value;
    problems.push(`row ${row + 1}: ${name} must be a number above 0, got ${String(value)}`);
    return 1;
  };
  const values = rows.map((row, i): EarValues => {
    const perPlant =
      row.earsPerPlant ??
      (row.ears === undefined && row.plants === undefined
        ? undefined
        : positive(row.ears, "ears", i) / positive(row.plants, "plants", i));
    return {
      hybrid: row.hybrid ?? "all",
      block: String(row.block ?? "1"),
      density: positive(row.density, "density", i),
      earsPerPlant: positive(perPlant, "earsPerPlant (or ears and plants)", i),
      rowsPerEar: positive(row.rowsPerEar, "rowsPerEar", i),
      kernelsPerRow: positive(row.kernelsPerRow, "kernelsPerRow", i),
      kernelMass: positive(row.kernelMass, "kernelMass", i),
      weighedPerPlant: row.weighedPerPlant == null ? null : positive(row.weighedPerPlant, "weighedPerPlant", i),
    };
  });
  if (problems.length > 0) throw new AnalysisError("invalid-data", problems.join("\n"));
  return values;
}
