/**
 * Codes of `AnalysisError`, one per rule a caller can break. They are stable: tools may branch on them.
 */
export type ErrorCode =
  | "invalid-data" // values of an argument break a rule (not finite, empty, wrong sign)
  | "invalid-option" // an option is outside its allowed values
  | "length-mismatch" // arrays that must run in parallel do not
  | "not-estimable" // the data cannot carry what was asked for
  | "not-offered" // a combination of options that would mislead is refused
  | "not-grouped" // rows of one group do not stand together, and the caller said they would
  | "unreadable-source" // the text is not a table, or not the kind of document asked for
  | "newer-version" // a saved result has a format that only a later version of the package knows
  | "data-problems"; // strict reading found errors in the file

/**
 * Thrown when the caller is wrong. Bad data files give `Issue`s, a difficult fit gives a `status`, and a quantity that
 * does not exist is a tagged value; none of these throws.
 */
export class AnalysisError extends Error {
  override readonly name = "AnalysisError";
  readonly code: ErrorCode;
  constructor(code: ErrorCode, message: string) {
    super(message);
    this.code = code;
  }
}

/** Guard for the first lines of a public function; the message states the rule and the value received. */
export function check(condition: boolean, code: ErrorCode, message: string): asserts condition {
  if (!condition) throw new AnalysisError(code, message);
}
