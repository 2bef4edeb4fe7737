import type { Interval } from "../core/interval.ts";
import { predictLodging } from "../standability/lodgedShare.ts";
import type { LodgingOutcome } from "./lodgingReports.ts";
import type { OnAxes } from "./result.ts";
import type { Standing } from "./standability.ts";

/** The optimum of the yield response that the limit is set against. */
export interface YieldOptimum {
  readonly target: "economic" | "agronomic";
  readonly density: number | null;
  readonly interval: Interval | null;
}

/** Which of the two decides: the yield optimum or the standability limit. The lower one does. */
export function standingOf(
  outcome: LodgingOutcome | null,
  optimum: YieldOptimum | null,
  axes: (density: number | null) => OnAxes,
): Standing {
  const base = {
    basis: outcome?.report.kind ?? null,
    target: optimum?.target ?? "agronomic",
    yieldOptimum: optimum?.density ?? null,
    limit: null,
    limitKind: null,
    overlap: null,
    shareAtOptimum: null,
  } as const;
  const verdict = (binds: Standing["binds"], density: number | null, reason: string) => ({
    binds,
    density,
    axes: axes(density),
    reason,
  });
  if (outcome === null) return { ...base, ...verdict("undecided", null, "lodging was not counted") };
  const { limit } = outcome.report;
  const x = base.yieldOptimum;
  const known = outcome.fit.working !== null || limit.noneLodged !== null || outcome.fit.status === "all-lodged";
  const found = {
    ...base,
    limit: limit.density,
    limitKind: limit.kind,
    overlap: x === null ? null : overlap(limit.interval, optimum?.interval ?? null),
    shareAtOptimum: x !== null && known ? predictLodging(outcome.fit, [x])[0] : null,
  };
  const kind = outcome.report.kind;
  const test = kind === "push" || kind === "pinch";
  const weak = "stalks are weak there, though they still stood";
  const what = test ? `failures in the ${kind} test` : "lodging";
  switch (limit.kind) {
    case "none":
      return { ...found, ...verdict("undecided", null, limit.reason ?? "the counts do not place the limit") };
    case "below-range": {
      const main = `${what} exceeds the tolerated share even at the lowest tested density`;
      return {
        ...found,
        ...(test ? verdict("undecided", null, `${main}: ${weak}`) : verdict("standability", null, main)),
      };
    }
    case "above-range":
      return x === null
        ? {
            ...found,
            ...verdict("undecided", null, `${what} stays within the tolerated share at every tested density`),
          }
        : {
            ...found,
            ...verdict(
              "yield",
              x,
              `${what} stays within the tolerated share at every tested density, so yield decides`,
            ),
          };
    case "interior": {
      const at = limit.density as number;
      if (x === null) {
        return {
          ...found,
          ...verdict("undecided", null, `${what} sets an upper limit, but no density yields more than another`),
        };
      }
      const below = `${what} passes the tolerated share below the yield optimum`;
      if (at < x && test) return { ...found, ...verdict("undecided", null, `${below}: ${weak}`) };
      return at < x
        ? { ...found, ...verdict("standability", at, `${below}, so standability decides`) }
        : {
            ...found,
            ...verdict("yield", x, `${what} passes the tolerated share only above the yield optimum, so yield decides`),
          };
    }
  }
}

/** Do two ranges of density share a point? Null when either is missing. */
function overlap(a: Interval | null, b: Interval | null): boolean | null {
  if (a === null || b === null) return null;
  const low = (one: Interval): number => one.lower ?? Number.NEGATIVE_INFINITY;
  const high = (one: Interval): number => one.upper ?? Number.POSITIVE_INFINITY;
  return low(a) <= high(b) && low(b) <= high(a);
}
