import { crossLabels } from "./analyseStrata.ts";

/** Which factor was randomised on the larger plots. */
export type WholePlotFactor = "hybrid" | "density";

/** Plots of one or more environments, as the layout rules need them. */
export interface LayoutData {
  /** Block, unique over environments, [n]. */
  readonly block: readonly string[];
  readonly hybrid: readonly string[];
  /** Density level, [n]. */
  readonly density: readonly string[];
  readonly mainPlot: readonly string[] | null;
  readonly row: readonly (number | null)[] | null;
  readonly column: readonly (number | null)[] | null;
  readonly order: readonly (number | null)[] | null;
}

export interface Layout {
  readonly wholePlot: WholePlotFactor | null;
  /** How this was seen, in words. */
  readonly evidence: string;
}

/**
 * Reads from the layout whether hybrids or densities lay on main plots.
 *
 * Main-plot labels decide first. Without them, positions do: when in every block the plots of each hybrid (or density)
 * fill a stretch of their own, holding no plot of another, the factor was laid out in main plots; in a plain randomised
 * block that would be a rare accident. Without either, the labels of the two layouts are the same and plain blocks are
 * assumed, which is said.
 */
export function recogniseLayout(data: LayoutData): Layout {
  const hybrids = new Set(data.hybrid).size;
  const densities = new Set(data.density).size;
  if (hybrids < 2 || densities < 2)
    return { wholePlot: null, evidence: "one treatment factor: every plot is its own unit" };
  if (data.mainPlot !== null) {
    const units = crossLabels([
      { name: "block", labels: data.block },
      { name: "main plot", labels: data.mainPlot },
    ]);
    if (isConstantWithin(units, data.hybrid))
      return { wholePlot: "hybrid", evidence: "each main plot holds one hybrid" };
    if (isConstantWithin(units, data.density))
      return { wholePlot: "density", evidence: "each main plot holds one density" };
    return { wholePlot: null, evidence: "main plots hold several hybrids and several densities: they are not used" };
  }
  const positioned = data.row !== null || data.column !== null || data.order !== null;
  if (positioned) {
    const byHybrid = separated(data, data.hybrid);
    const byDensity = separated(data, data.density);
    if (byHybrid && !byDensity)
      return { wholePlot: "hybrid", evidence: "in every block the plots of a hybrid lie together" };
    if (byDensity && !byHybrid)
      return { wholePlot: "density", evidence: "in every block the plots of a density lie together" };
    return { wholePlot: null, evidence: "hybrids and densities are mixed over each block" };
  }
  return {
    wholePlot: null,
    evidence:
      "plot positions and main plots are not given: hybrids and densities are taken as randomised together in blocks",
  };
}

function isConstantWithin(units: readonly string[], factor: readonly string[]): boolean {
  const known = new Map<string, string>();
  for (let i = 0; i < units.length; i++) {
    const value = known.get(units[i]);
    if (value === undefined) known.set(units[i], factor[i]);
    else if (value !== factor[i]) return false;
  }
  return true;
}

interface Box {
  readonly group: string;
  size: number;
  low: [number, number];
  high: [number, number];
}

/** True when in every block the bounding boxes of the groups hold no foreign plot (and groups have several plots). */
function separated(data: LayoutData, group: readonly string[]): boolean {
  const n = group.length;
  const place = (i: number): [number, number] | null => {
    const row = data.row?.[i] ?? null;
    const column = data.column?.[i] ?? null;
    if (row !== null || column !== null) return [row ?? 0, column ?? 0];
    const order = data.order?.[i] ?? null;
    return order === null ? null : [order, 0];
  };
  const blocks = new Map<string, number[]>();
  for (let i = 0; i < n; i++) blocks.set(data.block[i], [...(blocks.get(data.block[i]) ?? []), i]);
  for (const members of blocks.values()) {
    const boxes = new Map<string, Box>();
    for (const i of members) {
      const at = place(i);
      if (at === null) return false;
      const box = boxes.get(group[i]) ?? {
        group: group[i],
        size: 0,
        low: [...at] as [number, number],
        high: [...at] as [number, number],
      };
      box.size++;
      for (const axis of [0, 1] as const) {
        box.low[axis] = Math.min(box.low[axis], at[axis]);
        box.high[axis] = Math.max(box.high[axis], at[axis]);
      }
      boxes.set(group[i], box);
    }
    if (boxes.size < 2 || ![...boxes.values()].some(({ size }) => size > 1)) return false;
    for (const i of members) {
      const at = place(i)!;
      for (const box of boxes.values()) {
        const inside = at.every((v, axis) => v >= box.low[axis] && v <= box.high[axis]);
        if (inside && box.group !== group[i]) return false;
      }
    }
  }
  return true;
}
