import { exp } from "../core/elementary.ts";
import type { InnerFamily } from "../curves/family.ts";
import { optimumSet } from "../interval/optimumSets.ts";
import { fQuantile } from "../numeric/distributions.ts";
import type { JoinDesign } from "../numeric/joinDesign.ts";
import { kernelFamilies, refitKernel } from "../numeric/refitKernel.ts";

/** Level sums and total of one trial whose blocks and densities are described by a design. */
export interface Answer {
  /** Fits all curves to one trial; the other methods speak of that trial until the next call. */
  fit(sums: Float64Array, total: number): void;
  /** Sets the cut-offs of the envelope and of the flat curve, as shares of the least RSS; at first both are F / dof. */
  useCutoff(factor: number, flatFactor: number): void;
  /** Sum of squares taken off by each family of `kernelFamilies`. */
  readonly gain: Float64Array;
  /** Position in `kernelFamilies` of the family with the smallest AICc. */
  chosen(): number;
  /**
   * Optimum of the chosen curve at the price ratio, caller's unit, held inside the tested range. A curve without response
   * gives the lowest density: fewer seeds lose nothing.
   */
  optimum(): number;
  /** Is a curve without response compatible with the trial? */
  flatNotExcluded(): boolean;
  /** Does the envelope interval end inside the tested range on both sides? Fast; agronomic optimum only. */
  isBounded(): boolean;
  /** The whole envelope set, scaled to [0, 1]. */
  envelope(): Envelope;
}

/** Envelope set on the [0, 1] scale of the tested range, pieces ascending and apart. */
export interface Envelope {
  readonly pieces: readonly (readonly [number, number])[];
  readonly lowerOpen: boolean;
  readonly upperOpen: boolean;
}

const responding: readonly InnerFamily[] = ["linear", "quadratic", "linear-plateau", "quadratic-plateau"];

/**
 * What the standard analysis would say about a simulated trial: AICc choice, optimum and envelope interval, from level sums.
 *
 * It repeats `optimumInterval` (method "envelope", a given cut-off) and the AICc rule on data that are already reduced; a test
 * holds it to them.
 *
 * @param plots - number of plots, and `blocks` of blocks, that the design's weights stand for
 * @param r - price ratio, yield units per density unit
 */
export function simulatedAnswer(design: JoinDesign, plots: number, blocks: number, level: number, r: number): Answer {
  const kernel = refitKernel(design);
  const { scaled, uu, uv, vv, low, span, levels } = design;
  const m = scaled.length;
  const families = m > 2 ? responding : (["linear"] as const);
  const dof = plots - blocks - (m > 2 ? 2 : 1);
  let factor = dof > 0 ? fQuantile(level, 1, dof) / dof : Number.POSITIVE_INFINITY;
  let flatFactor = factor;
  const penalty = kernelFamilies.map((_, f) => penaltyFactor(plots, blocks, f));
  const scaledRatio = r * span;
  const { gain, shape } = kernel;
  const firstStep = design.linear[2];
  let sums: Float64Array = new Float64Array(m);
  let total = 0;
  let cutoff = 0;
  let flatCutoff = 0;

  function fit(newSums: Float64Array, newTotal: number): void {
    sums = newSums;
    total = newTotal;
    kernel.fit(sums);
    const most = Math.max(gain[1], gain[2], gain[3], gain[4]);
    const least = Math.max(total - most, 0);
    cutoff = least * (1 + factor);
    flatCutoff = least * (1 + flatFactor);
  }

  function chosen(): number {
    let best = 0;
    let least = Number.POSITIVE_INFINITY;
    const last = m > 2 ? 4 : 1;
    // Of equal families the first, as in `compareCurves`: with two densities below the join both plateau curves fit alike.
    const notTied = 1 - 1e-6 / plots;
    for (let f = 0; f <= last; f++) {
      const criterion = Math.max(total - gain[f], 0) * penalty[f];
      if (criterion < least * notTied) {
        least = criterion;
        best = f;
      }
    }
    return best;
  }

  function optimum(): number {
    const u = scaledOptimum(chosen(), shape, scaledRatio);
    return u >= 1 ? levels[m - 1] : u > 0 ? low + span * u : levels[0];
  }

  function isBounded(): boolean {
    const c = total - cutoff;
    if (!(c > 0) || m < 3) return false;
    let t1 = 0;
    let t2 = 0;
    for (let l = 0; l < m; l++) {
      const su = sums[l] * scaled[l];
      t1 += su;
      t2 += su * scaled[l];
    }
    const ray = (d1: number, d2: number): number => {
      const n = d1 * t1 + d2 * t2;
      return n > 0 ? (n * n) / (d1 * d1 * uu + 2 * d1 * d2 * uv + d2 * d2 * vv) : 0;
    };
    // Curves that peak at or beyond an end: straight lines, parabolas with the vertex on the end, or bent upwards with equal
    // ends; and a step at the second density, which puts the join anywhere between the two lowest.
    if (gain[1] >= c) return false;
    if (ray(2, -1) >= c || ray(0, -1) >= c || ray(-1, 1) >= c) return false;
    if (sums[0] < 0 && (sums[0] * sums[0]) / firstStep >= c) return false;
    const vertex = -shape[1] / (2 * shape[2]);
    return shape[2] < 0 && vertex > 0 && vertex < 1 ? true : gain[2] < c;
  }

  function envelope(): Envelope {
    const response = { sums, total, blockMean: new Float64Array(1) };
    const sets = families.map((family) => optimumSet(family, design, response, r, cutoff));
    const inside = sets.flatMap((set) => [...set.inside]);
    const lowerOpen = sets.some((set) => set.lowerEdge) || inside.some(([from]) => from <= 0);
    const upperOpen = sets.some((set) => set.upperEdge) || inside.some(([, to]) => to >= 1);
    if (lowerOpen) inside.push([0, 0]);
    if (upperOpen) inside.push([1, 1]);
    inside.sort((a, b) => a[0] - b[0]);
    const pieces: [number, number][] = [];
    for (const [from, to] of inside) {
      const last = pieces[pieces.length - 1];
      if (last && from <= last[1] + 1e-9) last[1] = Math.max(last[1], to);
      else pieces.push([from, to]);
    }
    return { pieces, lowerOpen, upperOpen };
  }

  function useCutoff(newFactor: number, newFlatFactor: number): void {
    factor = newFactor;
    flatFactor = newFlatFactor;
  }

  return { fit, useCutoff, gain, chosen, optimum, flatNotExcluded: () => total <= flatCutoff, isBounded, envelope };
}

/** exp(penalty / n): RSS times this ranks like AICc = n ln(RSS / n) + penalty. Infinite when AICc does not exist. */
function penaltyFactor(n: number, blocks: number, family: number): number {
  const k = blocks + Math.min(family, 2) + 1;
  const room = n - k - 1;
  return room > 0 ? exp((2 * k + (2 * k * (k + 1)) / room) / n) : Number.POSITIVE_INFINITY;
}

/** Optimum of Y - r x on the [0, 1] scale from the kernel's shapes: <= 0 at or below, >= 1 at or above the tested range. */
export function scaledOptimum(family: number, shape: Float64Array, r: number): number {
  switch (family) {
    case 0:
      return 0;
    case 1:
      return shape[0] > r ? 1 : 0;
    case 2:
      if (shape[2] < 0) return (r - shape[1]) / (2 * shape[2]);
      return shape[1] + shape[2] > r ? 1 : 0;
    case 3:
      return shape[3] > r ? shape[4] : 0;
    default:
      if (shape[6] === Number.POSITIVE_INFINITY) return shape[0] > r ? 1 : 0;
      return shape[5] > 0 ? shape[6] - r / (2 * shape[5]) : 0;
  }
}
