import { check } from "../core/errors.ts";
import type { Interval, Piece } from "../core/interval.ts";
import { type Family, type InnerFamily, innerFamilies, isInner } from "../curves/family.ts";
import { fitPrepared } from "../fit/fitCurve.ts";
import type { PreparedData } from "../fit/fitData.ts";
import { fQuantile } from "../numeric/distributions.ts";
import { joinResponse } from "../numeric/joinDesign.ts";
import { calibrate } from "./calibrate.ts";
import { type RegionScalar, type ScalarSet, scalarSet } from "./scalarRegion.ts";

/** Interval of a scalar by test inversion. */
export interface ScalarInterval extends Interval {
  /** Family it belongs to; null for the envelope. */
  readonly family: Family | null;
  /** What an open end means, in words; null when there is nothing to say. */
  readonly reason: string | null;
}

/**
 * All values of a scalar on curves with RSS <= least RSS x (1 + factor): over one family, or over all of them with the least RSS
 * of any and the degrees of freedom of the richest (the envelope).
 *
 * The factor is F(level; 1, df) / df; for the envelope, unless `calibrate` is false, it is raised to the one simulated for the
 * optimum, because the least RSS is again that of whichever family happens to fit best (coverage: bench/coverage.md).
 *
 * @throws AnalysisError `not-estimable` when no family can be fitted, `not-offered` for a smooth family
 *
 * Source: test inversion, Seber & Wild (1989), Nonlinear Regression, section 5.4.
 */
export function scalarInterval(
  data: PreparedData,
  scalar: RegionScalar,
  {
    family = null,
    families = innerFamilies,
    level = 0.95,
    calibrate: simulated = family === null,
    simulations = 999,
    seed = 1,
    factor: known,
  }: {
    readonly family?: Family | null;
    readonly families?: readonly Family[];
    readonly level?: number;
    readonly calibrate?: boolean;
    readonly simulations?: number;
    readonly seed?: number;
    /** A factor simulated before for these plots and families (`optimumInterval().cutoff`); spares the simulation. */
    readonly factor?: number;
  } = {},
): ScalarInterval {
  const asked = family === null ? families : [family];
  const smooth = asked.filter((one) => !isInner(one));
  check(smooth.length === 0, "not-offered", `test inversion covers the exact families; leave out ${smooth.join(", ")}`);
  const fits = asked.map((one) => fitPrepared(one, data)).filter((fit) => fit.status === "converged");
  check(fits.length > 0, "not-estimable", `none of ${asked.join(", ")} can be fitted to these plots`);
  const method = family === null ? "envelope" : "profile";
  const dof = Math.min(...fits.map((fit) => fit.dofResidual));
  const none = { lower: null, upper: null, lowerOpen: true, upperOpen: true, level, method, family };
  if (dof <= 0) return { ...none, reason: "there are no residual degrees of freedom to judge scatter by" };
  const least = Math.min(...fits.map((fit) => fit.rss as number));
  const plain = fQuantile(level, 1, dof) / dof;
  const responding = fits.map((fit) => fit.family as InnerFamily).filter((one) => one !== "flat");
  const calibrated = (): number =>
    known ?? calibrate(data, responding, { r: 0, level, dof, plain, simulations, seed, flat: false }).factor;
  const factor = simulated && least > 0 && responding.length > 1 ? Math.max(calibrated(), plain) : plain;
  const cutoff = least * (1 + factor);
  const response = joinResponse(data.design, data.y);
  const sets = fits.map((fit) => scalarSet(fit.family as InnerFamily, data.design, response, scalar, cutoff));
  return { ...pieces(sets, scalar), level, method, family };
}

function pieces(
  sets: readonly ScalarSet[],
  { scale }: RegionScalar,
): Pick<ScalarInterval, "lower" | "upper" | "lowerOpen" | "upperOpen" | "pieces" | "reason"> {
  const ranges = sets.flatMap((set) => [...set.ranges]).sort((a, b) => a[0] - b[0]);
  const merged: [number, number][] = [];
  for (const [from, to] of ranges) {
    const last = merged[merged.length - 1];
    const width = last ? Math.max(Math.abs(last[1]), Math.abs(from)) : 0;
    if (last && from <= last[1] + 1e-9 * width) last[1] = Math.max(last[1], to);
    else merged.push([from, to]);
  }
  const missing = sets.some((set) => set.partlyMissing);
  const lowerOpen = merged.length === 0 || missing || !Number.isFinite(merged[0][0]);
  const upperOpen =
    merged.length === 0 ||
    missing ||
    sets.some((set) => set.upperUnbounded) ||
    !Number.isFinite(merged[merged.length - 1][1]);
  const list: Piece[] = merged.map(([from, to], i) => ({
    lower: i === 0 && lowerOpen ? null : scale(from),
    upper: i === merged.length - 1 && upperOpen ? null : scale(to),
  }));
  return {
    lower: list[0]?.lower ?? null,
    upper: list[list.length - 1]?.upper ?? null,
    lowerOpen,
    upperOpen,
    ...(list.length > 1 ? { pieces: list } : {}),
    reason: missing
      ? "on some curves that are compatible with the data the quantity does not exist"
      : upperOpen
        ? "a join below the second density is compatible with the data, so the rise has no upper limit"
        : null,
  };
}
