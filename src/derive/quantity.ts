import { checkedRatio, type Economics, priceRatio } from "../core/economics.ts";
import { log } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import type { IntervalData } from "../interval/intervalData.ts";
import { flexScalar, optimumScalar, slopeScalar, valueScalar } from "../interval/scalar.ts";
import type { RegionScalar } from "../interval/scalarRegion.ts";
import { optimumOf, valueAt } from "../interval/scaledCurve.ts";
import type { JoinDesign } from "../numeric/joinDesign.ts";

/** Prices as one ratio, yield units per density unit, or one by one. */
export type PriceChoice = { readonly priceRatio: number } | { readonly prices: Economics };

/** One number that follows from a curve. Densities in the unit of the data. */
export type CurveQuantity =
  | { readonly kind: "agronomic-optimum" }
  | ({ readonly kind: "economic-optimum" } & PriceChoice)
  /** Yield at the agronomic optimum, or with prices at the economic one. */
  | ({ readonly kind: "yield-at-optimum" } & Partial<{ readonly priceRatio: number; readonly prices: Economics }>)
  | { readonly kind: "yield"; readonly density: number }
  /** Yield per density unit. */
  | { readonly kind: "slope"; readonly density: number }
  /** Yield at `to` less yield at `from`; with prices, less the cost of the seed in yield units. */
  | ({ readonly kind: "gain"; readonly from: number; readonly to: number } & Partial<{
      readonly priceRatio: number;
      readonly prices: Economics;
    }>)
  /** Flex score between two densities; `left`: up to the optimum between them; `right`: from it on. */
  | { readonly kind: "flex-score"; readonly between: readonly [number, number]; readonly part?: "left" | "right" };

/** Any of them, or the difference between these data and others (another hybrid): these less those. */
export type Quantity =
  | CurveQuantity
  | { readonly kind: "difference"; readonly of: CurveQuantity; readonly against: IntervalData };

/**
 * The quantity as a function of a curve.
 *
 * @throws AnalysisError `invalid-option` for an unknown kind, a density or a price out of bounds
 */
export function quantityScalar(design: JoinDesign, quantity: CurveQuantity): RegionScalar {
  const { low, span, levels } = design;
  const unit = (density: number): number => (density - low) / span;
  const inside = (density: number, name: string): number => {
    check(
      Number.isFinite(density) && density >= low && density <= levels[levels.length - 1],
      "invalid-option",
      `${name} must be inside the tested range ${low} to ${levels[levels.length - 1]}, got ${density}`,
    );
    return density;
  };
  const same = (value: number): number => value;
  switch (quantity.kind) {
    case "agronomic-optimum":
      return optimumScalar(design, 0);
    case "economic-optimum":
      return optimumScalar(design, ratioOf(quantity));
    case "yield-at-optimum": {
      const r = ratioOf(quantity) * span;
      return {
        read(family, a, b, c) {
          const at = optimumOf(family, a, b, c, r);
          return valueAt(family, a, b, c, Number.isNaN(at) ? 0 : Math.min(Math.max(at, 0), 1));
        },
        range: null,
        scale: same,
      };
    }
    case "yield":
      return { ...valueScalar(design, inside(quantity.density, "density")), at: [unit(quantity.density)] };
    case "slope":
      return {
        ...slopeScalar(design, inside(quantity.density, "density")),
        at: [unit(quantity.density)],
        steepAtLowest: quantity.density === low,
      };
    case "gain": {
      const u1 = unit(inside(quantity.from, "from"));
      const u2 = unit(inside(quantity.to, "to"));
      const cost = ratioOf(quantity) * (quantity.to - quantity.from);
      return {
        read: (family, a, b, c) => valueAt(family, a, b, c, u2) - valueAt(family, a, b, c, u1) - cost,
        range: null,
        scale: same,
        at: [u1, u2],
      };
    }
    case "flex-score": {
      const [x1, x2] = quantity.between;
      check(x1 > 0 && x2 > x1, "invalid-option", `between needs 0 < x1 < x2, got [${x1}, ${x2}]`);
      inside(x1, "between");
      inside(x2, "between");
      const at = [unit(x1), unit(x2)] as const;
      if (quantity.part === undefined) return { ...flexScalar(design, [x1, x2]), at, ratioOf: at };
      return { ...flexPart(design, [x1, x2], quantity.part), at };
    }
    default:
      check(false, "invalid-option", `unknown quantity "${String((quantity as { kind: unknown }).kind)}"`);
  }
}

/** Price ratio of a quantity that may have prices; 0 without. */
export function ratioOf(quantity: { readonly priceRatio?: number; readonly prices?: Economics }): number {
  return quantity.prices === undefined ? checkedRatio(quantity.priceRatio ?? 0) : priceRatio(quantity.prices);
}

/** Score of the stretch below or above the best density between x1 and x2; NaN when there is no such stretch. */
function flexPart(
  { low, span }: JoinDesign,
  [x1, x2]: readonly [number, number],
  part: "left" | "right",
): RegionScalar {
  const u1 = (x1 - low) / span;
  const u2 = (x2 - low) / span;
  const best = (family: number, a: number, b: number, c: number): number => {
    // A parabola that bends upwards is best at one of the two densities themselves.
    if (family === 2 && c >= 0) return b + c * (u1 + u2) > 0 ? u2 : u1;
    return Math.min(Math.max(optimumOf(family, a, b, c, 0), u1), u2);
  };
  return {
    read(family, a, b, c) {
      const top = best(family, a, b, c);
      const [from, to] = part === "left" ? [u1, top] : [top, u2];
      if (!(to > from)) return Number.NaN;
      const y1 = valueAt(family, a, b, c, from);
      const y2 = valueAt(family, a, b, c, to);
      return y1 > 0 && y2 > 0 ? 100 * (1 - log(y2 / y1) / log((low + span * to) / (low + span * from))) : Number.NaN;
    },
    range: null,
    scale: (value) => value,
  };
}

/** The quantity in words, for sentences and tables. */
export function describeQuantity(quantity: Quantity): string {
  switch (quantity.kind) {
    case "agronomic-optimum":
      return "agronomic optimum";
    case "economic-optimum":
      return "economic optimum";
    case "yield-at-optimum":
      return ratioOf(quantity) > 0 ? "yield at the economic optimum" : "yield at the agronomic optimum";
    case "yield":
      return `yield at ${quantity.density}`;
    case "slope":
      return `slope at ${quantity.density}`;
    case "gain":
      return `${ratioOf(quantity) > 0 ? "gain net of seed cost" : "gain"} from ${quantity.from} to ${quantity.to}`;
    case "flex-score": {
      const [x1, x2] = quantity.between;
      return `flex score ${quantity.part ? `(${quantity.part} part) ` : ""}from ${x1} to ${x2}`;
    }
    default:
      return `difference in ${describeQuantity(quantity.of)}`;
  }
}
