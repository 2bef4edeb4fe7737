/**
 * One problem found in the data. `error`: the value or row cannot be used; `warning`: it is used, but look at it;
 * `note`: something the reader did that changes how the numbers are to be read (averaged sub-samples, say).
 */
export interface Issue {
  readonly severity: "error" | "warning" | "note";
  /** Stable code in kebab-case, such as `not-a-number`. */
  readonly code: string;
  /** Line of the file as an editor counts it (the header is line 1), or the row number of an array; null: whole file. */
  readonly row: number | null;
  /** Header of the column as written in the file; null: whole row or file. */
  readonly column: string | null;
  /** The text found, shortened to 60 characters; null when there is none. */
  readonly received: string | null;
  /** The rule that was broken, in words. */
  readonly rule: string;
  /** What to do about it. */
  readonly remedy: string;
  /** One readable sentence made of the fields above. */
  readonly message: string;
  /** How many rows share this problem, when it is reported once for all of them. */
  readonly count?: number;
}
