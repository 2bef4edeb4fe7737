/** A cell as it came: text from a file, or a number from a program. */
export type Cell = string | number;

/** Text or rows brought to one shape: cells by column index, and the line each row begins on. */
export interface Table {
  readonly header: readonly string[];
  readonly rows: readonly (readonly Cell[])[];
  /** Line of the file (or row number of an array) of every row; shape [rows]. */
  readonly lines: ArrayLike<number>;
  /** Separator found or declared; null when rows were given. */
  readonly delimiter: string | null;
  /** What a row number counts: lines of a file, or rows of an array. */
  readonly counts: "Line" | "Row";
}
