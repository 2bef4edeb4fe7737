import type { Interval } from "../core/interval.ts";

export type LimitName =
  | "economic-optimum"
  | "standability"
  | "feeding"
  | "nitrogen-from-data"
  | "tested-range"
  | "accepted-step";

/**
 * One thing that bounds the rate. `at`: the bound lies inside the tested range, at `rate`; `at-lowest`: at or below the lowest
 * tested density; `at-highest`: at or above the highest, so it does not bind here; `none`: there is no such bound, or it
 * cannot be told (`reason`).
 */
export interface DensityLimit {
  readonly name: LimitName;
  readonly kind: "at" | "at-lowest" | "at-highest" | "none";
  /** Seeds per area in the rate unit; the end of the tested range for `at-lowest` and `at-highest`, null for `none`. */
  readonly rate: number | null;
  /** Plants per area in the rate unit; null when establishment is not known. */
  readonly stand: number | null;
  /** On the seeding axis, establishment included; null when there is none. */
  readonly interval: Interval | null;
  /** How it was found, or why there is none, in one sentence. */
  readonly basis: string;
}
