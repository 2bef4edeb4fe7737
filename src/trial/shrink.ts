import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";

/**
 * Water shrink per point of moisture: percent of the wet weight that leaves with every point dried down to `target`.
 *
 * factor = 100 / (100 - target).
 *
 * @param target - moisture to dry to, percent, 0 <= target < 100
 * @throws AnalysisError `invalid-data` when the target is outside [0, 100)
 * @example
 * waterShrinkPerPoint(15.5); // => 1.183431952662722
 *
 * Source: dry matter is conserved; extension sheets print 1.183 (15.5 %), 1.176 (15 %), 1.163 (14 %).
 */
export function waterShrinkPerPoint(target: number): number {
  checkShape(target, "target", "number", "invalid-option");
  check(
    target >= 0 && target < 100,
    "invalid-data",
    `target moisture must be a percentage from 0 to below 100; got ${target}`,
  );
  return 100 / (100 - target);
}

/** What a buyer takes off: so much per point of moisture above the target, and a handling loss. */
export interface ShrinkTerms {
  /** Moisture of the load and moisture it is paid at, percent. */
  readonly moisture: number;
  readonly target: number;
  /** Percent of weight per point; default: water only. */
  readonly perPoint?: number;
  /** Handling loss, percent of weight; default 0. */
  readonly handling?: number;
}

/** What `ShrinkTerms` must look like. */
export const shrinkTermsShape: { readonly [property: string]: Shape } = {
  moisture: "number",
  target: "number",
  perPoint: "number?",
  handling: "number?",
};

/**
 * Weight that is paid for after shrink.
 *
 * paid = weight (1 - (perPoint (moisture - target) + handling) / 100); nothing is added for grain drier than the target.
 *
 * @param weight - as delivered, any unit
 * @throws AnalysisError `invalid-data` when a percentage is outside [0, 100) or the shrink exceeds the weight
 * @example
 * shrink(1000, { moisture: 25.5, target: 15.5, perPoint: 1.183, handling: 0.5 }); // => 876.7
 *
 * Source: pencil-shrink rule of extension sheets; 1,000 lb from 25.5 to 15.5 % at 1.183 a point and 0.5 % handling.
 */
export function shrink(weight: number, terms: ShrinkTerms): number {
  checkShape(weight, "weight", "number", "invalid-option");
  checkShape(terms, "terms", shrinkTermsShape);
  const { moisture, target, perPoint = waterShrinkPerPoint(target), handling = 0 } = terms;
  check(
    moisture >= 0 && moisture < 100,
    "invalid-data",
    `moisture must be a percentage from 0 to below 100; got ${moisture}`,
  );
  check(
    perPoint >= 0 && handling >= 0,
    "invalid-data",
    `perPoint and handling must not be negative; got ${perPoint} and ${handling}`,
  );
  const percent = perPoint * Math.max(0, moisture - target) + handling;
  check(percent <= 100, "invalid-data", `the shrink must not exceed the weight; got ${percent} percent`);
  return weight * (1 - percent / 100);
}
