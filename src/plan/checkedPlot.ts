/** A plot of a plan from any source; a `PlanPlot` is one. */
export interface CheckedPlot {
  readonly environment?: string | null;
  readonly kind?: "plot" | "border" | "filler";
  readonly block: string | number;
  readonly hybrid: string | null;
  readonly seedingRate: number | null;
  readonly row?: number | null;
  readonly column?: number | null;
  readonly order?: number | null;
  readonly mainPlot?: number | null;
}
