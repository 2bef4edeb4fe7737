import { log } from "../core/elementary.ts";
import type { JoinDesign } from "../numeric/joinDesign.ts";
import { optimumOf, slopeAt, valueAt } from "./scaledCurve.ts";

/** One number read off a curve in the form of `scaledCurve.ts`. */
export interface Scalar {
  /** Value on the scale of `range` and `scale`; NaN where it does not exist. */
  readonly read: (family: number, a: number, b: number, c: number) => number;
  /** Values at or beyond these ends are censored; null when the quantity has none. */
  readonly range: { readonly low: number; readonly high: number } | null;
  /** To the caller's unit. */
  readonly scale: (value: number) => number;
}

/** From the scaled density to the caller's unit; the ends are hit exactly. */
export function densityScale({ levels, low, span }: JoinDesign): (u: number) => number {
  const last = levels.length - 1;
  return (u) => (u <= 0 ? levels[0] : u >= 1 ? levels[last] : low + span * u);
}

/** The optimum density at price ratio r, yield units per density unit. */
export function optimumScalar(design: JoinDesign, r: number): Scalar {
  const scaledRatio = r * design.span;
  return {
    read: (family, a, b, c) => optimumOf(family, a, b, c, scaledRatio),
    range: { low: 0, high: 1 },
    scale: densityScale(design),
  };
}

/** Flex score between two densities: 100 (1 - ln(Y2 / Y1) / ln(x2 / x1)); it does not exist where the curve is not positive. */
export function flexScalar(design: JoinDesign, [x1, x2]: readonly [number, number]): Scalar {
  const u1 = (x1 - design.low) / design.span;
  const u2 = (x2 - design.low) / design.span;
  const logRatio = log(x2 / x1);
  return {
    read(family, a, b, c) {
      const y1 = valueAt(family, a, b, c, u1);
      const y2 = valueAt(family, a, b, c, u2);
      return y1 > 0 && y2 > 0 ? 100 * (1 - log(y2 / y1) / logRatio) : Number.NaN;
    },
    range: null,
    scale: (value) => value,
  };
}

/** Yield at a density. */
export function valueScalar(design: JoinDesign, density: number): Scalar {
  const u = (density - design.low) / design.span;
  return { read: (family, a, b, c) => valueAt(family, a, b, c, u), range: null, scale: (value) => value };
}

/** Slope at a density, yield units per density unit; at a kink, to the right. */
export function slopeScalar(design: JoinDesign, density: number): Scalar {
  const u = (density - design.low) / design.span;
  const { span } = design;
  return { read: (family, a, b, c) => slopeAt(family, a, b, c, u) / span, range: null, scale: (value) => value };
}

/**
 * The curve's own vertex or join wherever it lies, a minimum included: what a general bootstrap of -b1 / (2 b2) would give. For
 * information and comparison, never advice.
 */
export function vertexScalar({ low, span }: JoinDesign): Scalar {
  return {
    read(family, _a, b, c) {
      if (family === 2) return c === 0 ? Number.NaN : low - (span * b) / (2 * c);
      return family > 2 && b > 0 && c < Number.POSITIVE_INFINITY ? low + span * c : Number.NaN;
    },
    range: null,
    scale: (value) => value,
  };
}
