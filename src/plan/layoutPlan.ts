import type { DensityUnit } from "../trial/trial.ts";
import type { LengthUnit, Measure } from "../trial/units.ts";

export type LayoutDesign = "complete-block" | "split-plot" | "strips" | "latin-square";

/** Which plots side by side, or end to end, may not be alike. */
export type NeighbourRule = "any" | "rates-differ" | "hybrids-differ" | "treatments-differ";

/** One plot of a plan: a place in the field and what is planted there. */
export interface PlanPlot {
  readonly environment: string | null;
  /** Label that is unique in the plan: block x 100 + position, with the number of the environment before it. */
  readonly plot: string;
  /** `border`: planted, not harvested, no treatment. `filler`: the same inside the field, where blocks leave a place free. */
  readonly kind: "plot" | "border" | "filler";
  /** 1 …; 0 for borders. In a Latin square the row is the block. */
  readonly block: number;
  /** Main plot within the block, 1 …; null where there are none. */
  readonly mainPlot: number | null;
  /** Position counted from the first corner, borders included: row along the line of travel, column across it; 1 … */
  readonly row: number;
  readonly column: number;
  /** Order in which the planter comes to the plots, up one row and down the next. */
  readonly order: number;
  readonly hybrid: string | null;
  /** Seeds per area, in the plan's unit. */
  readonly seedingRate: number | null;
}

/** A randomised layout, ready to be planted: plain data that survives `JSON.stringify`. */
export interface LayoutPlan {
  readonly schema: "standcurve/layout-plan/1";
  readonly design: LayoutDesign;
  readonly mainPlot: "hybrid" | "density" | null;
  readonly densityUnit: DensityUnit;
  readonly hybrids: readonly string[];
  readonly rates: readonly number[];
  readonly blocks: number;
  readonly environments: readonly string[];
  readonly neighbours: NeighbourRule;
  /** Size of one plot; null when not given. */
  readonly plotLength: Measure<LengthUnit> | null;
  readonly plotWidth: Measure<LengthUnit> | null;
  /** Ground left free behind each row of plots. */
  readonly alley: Measure<LengthUnit> | null;
  /** Rows and columns of the field, borders included. */
  readonly rows: number;
  readonly columns: number;
  readonly plots: readonly PlanPlot[];
  readonly seed: number;
  /** How the order was drawn: uniformly over all allowed orders, or by a long chain of swaps where the rule leaves few. */
  readonly randomisation: "uniform" | "swap-chain";
  readonly notes: readonly string[];
  readonly cautions: readonly string[];
}

/** A treatment: what is planted on one plot. */
export interface Treatment {
  readonly hybrid: string;
  readonly rate: number;
}
