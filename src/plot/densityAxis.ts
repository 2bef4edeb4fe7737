import type { TrialAnalysis } from "../analyze/result.ts";
import type { DensityUnit, Trial } from "../trial/trial.ts";
import { figure } from "./figureText.ts";

/** How the densities of one trial stand on an axis. */
export interface DensityAxis {
  /** Factor from the trial's unit to the axis. */
  readonly scale: number;
  /** "stand" or "seeding rate". */
  readonly place: "stand" | "seeding rate";
  /** Unit on the axis. */
  readonly unit: string;
  readonly title: string;
  readonly seedUnit: string;
  /** A density of the trial as text, without its unit. */
  text(density: number): string;
}

/** Single plants per acre or hectare are shown in thousands. */
export function densityAxis(
  { densityUnit, densityAxis: axis }: { readonly densityUnit: DensityUnit; readonly densityAxis: Trial["densityAxis"] },
  highest: number,
): DensityAxis {
  const ground = densityUnit.slice(densityUnit.indexOf("/") + 1);
  const thousands = ground === "ac" || ground === "ha";
  const scale = thousands && !densityUnit.startsWith("1000") ? 0.001 : 1;
  const onRate = axis === "seeding-rate";
  const unit = `${thousands ? "thousand " : ""}${onRate ? "seeds" : "plants"}/${ground}`;
  const shown = highest * scale;
  const decimals = shown >= 200 ? 0 : shown >= 20 ? 1 : shown >= 1 ? 2 : 3;
  const place = onRate ? "seeding rate" : "stand";
  return {
    scale,
    place,
    unit,
    title: `${onRate ? "Seeding rate" : "Stand"}, ${unit}`,
    seedUnit: unit.replace("plants", "seeds"),
    text: (density) => figure(density * scale, decimals),
  };
}

/** The same for a finished analysis. */
export function densityAxisOf(analysis: TrialAnalysis): DensityAxis {
  const highest = analysis.hybrids.reduce(
    (most, { pooled }) => (pooled.kind === "analysed" ? Math.max(most, ...pooled.densities) : most),
    0,
  );
  return densityAxis(analysis.trial, highest);
}

/** Decimals of yields in texts. */
export const yieldDecimals: Readonly<Record<string, number>> = {
  "bu/ac": 1,
  "lb/ac": 0,
  "t/ha": 2,
  "kg/ha": 0,
  "g/m2": 0,
};
