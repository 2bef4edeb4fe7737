import { studentizedRangeQuantile, tQuantile, tTwoSided } from "../numeric/distributions.ts";
import { familywiseP, type PairStatistic } from "./familywise.ts";

/** Mean yields of the levels of one factor, with what is needed to compare them. */
export interface MeanTable {
  /** "density", "hybrid" or "hybrid x density". */
  readonly factor: string;
  readonly levels: readonly string[];
  /** Means, adjusted to equal blocks when plots are missing; null where a level cannot be estimated. */
  readonly means: readonly (number | null)[];
  /** Plots behind each mean. */
  readonly replication: readonly number[];
  readonly standardErrors: readonly (number | null)[];
  /** Standard error of a difference of two means; null when it differs from pair to pair (see `comparisons`). */
  readonly sed: number | null;
  /** Degrees of freedom of the errors; null when they differ from pair to pair. */
  readonly dof: number | null;
  /** Least significant difference of one pair chosen beforehand; null as `sed`. */
  readonly lsd: number | null;
  /** Honest significant difference for all pairs together (studentised range); null as `sed`. */
  readonly hsd: number | null;
  readonly level: number;
  /** All pairs, when there are at most 40 levels. */
  readonly comparisons: readonly Comparison[];
}

/** Difference of two means. */
export interface Comparison {
  readonly a: string;
  readonly b: string;
  /** Mean of a minus mean of b. */
  readonly difference: number;
  readonly standardError: number;
  /** Two-sided p for this pair alone. */
  readonly p: number;
  /** p for this pair among all pairs (Tukey-Kramer). */
  readonly adjustedP: number;
}

/** The pairs of more levels than these would be read by nobody. */
const MOST_LEVELS = 40;

/**
 * Table of means from their covariance.
 *
 * LSD = t(1 - alpha/2, df) SED; HSD = q(level; k, df) SED / sqrt 2; adjusted p = P(Q_k > sqrt 2 |difference| / SED), the
 * Tukey-Kramer rule, exact for equal replication.
 *
 * @param vcov - covariance of means i and j; not asked where a mean is null
 * @param dof - degrees of freedom, one number or by pair
 *
 * Source: Kramer (1956), Biometrics 12, 307-310; Hayter (1984), Ann. Statist. 12, 61-75.
 */
export function meanTable(
  factor: string,
  levels: readonly string[],
  means: readonly (number | null)[],
  replication: readonly number[],
  vcov: (i: number, j: number) => number,
  dof: number | ((i: number, j: number) => number),
  level: number,
): MeanTable {
  const dofOf = typeof dof === "number" ? () => dof : dof;
  const single = typeof dof === "number" ? dof : null;
  const present = levels.map((_, i) => i).filter((i) => means[i] !== null);
  const k = present.length;
  const raw: Omit<Comparison, "adjustedP">[] = [];
  const statistics: PairStatistic[] = [];
  const errors: number[] = [];
  for (let x = 0; x < k; x++) {
    for (let y = x + 1; y < k; y++) {
      const i = present[x];
      const j = present[y];
      const se = Math.sqrt(Math.max(0, vcov(i, i) + vcov(j, j) - 2 * vcov(i, j)));
      errors.push(se);
      if (levels.length > MOST_LEVELS) continue;
      const difference = (means[i] as number) - (means[j] as number);
      const t = se > 0 ? Math.abs(difference) / se : 0;
      const own = dofOf(i, j);
      statistics.push({ t, dof: own });
      raw.push({ a: levels[i], b: levels[j], difference, standardError: se, p: tTwoSided(t, own) });
    }
  }
  const adjusted = familywiseP(statistics, k);
  const comparisons = raw.map((pair, i) => ({ ...pair, adjustedP: adjusted[i] }));
  const common =
    errors.length > 0 && errors.every((se) => Math.abs(se - errors[0]) <= 1e-9 * errors[0]) ? errors[0] : null;
  return {
    factor,
    levels,
    means,
    replication,
    standardErrors: levels.map((_, i) => (means[i] === null ? null : Math.sqrt(vcov(i, i)))),
    sed: common,
    dof: single,
    lsd: common === null || single === null ? null : tQuantile(1 - (1 - level) / 2, single) * common,
    hsd:
      common === null || single === null
        ? null
        : (studentizedRangeQuantile(level, Math.max(2, k), single) / Math.SQRT2) * common,
    level,
    comparisons,
  };
}
