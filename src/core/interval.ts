/**
 * An interval for one quantity. An end that the data do not bound is `null`, and its flag is true: never infinity.
 * A set of several pieces lists them in `pieces`; `lower` and `upper` are then the outermost ends.
 */
export interface Interval {
  /** Lower end, in the unit of the quantity; null when open. */
  readonly lower: number | null;
  /** Upper end, in the unit of the quantity; null when open. */
  readonly upper: number | null;
  /** True when the data do not bound the quantity from below (inside the tested range). */
  readonly lowerOpen: boolean;
  readonly upperOpen: boolean;
  /** Nominal confidence level, 0 < level < 1. */
  readonly level: number;
  /** How the interval was made, for example "envelope", "profile", "fieller", "bootstrap-percentile". */
  readonly method: string;
  readonly pieces?: readonly Piece[];
}

/** One connected part of a confidence set; null ends are open. */
export interface Piece {
  readonly lower: number | null;
  readonly upper: number | null;
}
