import type { AnalyzeOptions } from "../analyze/options.ts";
import type { ReadSchema } from "../trial/schema.ts";
import type { Cell } from "../trial/table.ts";

/** What is analysed together: one hybrid over all its environments, or (finer) in each environment by itself. */
export type GroupBy = "hybrid" | "hybrid-environment";

/** Plots by column; every column has one value for each row. */
export interface PlotColumns {
  readonly [header: string]: ArrayLike<Cell | null>;
}

/** Cells split already, with the lines they have in their file. */
export interface GroupTable {
  readonly header: readonly string[];
  readonly rows: readonly (readonly Cell[])[];
  /** Line of each row in its file. */
  readonly lines: readonly number[];
  readonly counts: "Line" | "Row";
  readonly delimiter: string | null;
}

/**
 * The unit of work: plots of one group, and how to read and analyse them. Plain JSON, so that any engine can carry it; columns may
 * also be typed arrays where both ends are JavaScript.
 */
export interface GroupInput {
  readonly schema: "standcurve/group/1";
  readonly hybrid: string;
  /** Null: all environments together. */
  readonly environment: string | null;
  /** Records or columns, headers as in a file; or a table. One of the two. */
  readonly plots?: readonly Readonly<Record<string, unknown>>[] | PlotColumns;
  /** Row number of each record in its source. */
  readonly lines?: readonly number[];
  readonly table?: GroupTable;
  /** What the headers do not say. */
  readonly read?: ReadSchema;
  /** `scrutiny` is false unless given: leaving every plot out in turn costs more than the rest. */
  readonly options?: GroupOptions;
}

/** Options of the analysis that can travel as JSON. */
export type GroupOptions = Omit<AnalyzeOptions, "onProgress">;
