import { crowdingResponse } from "../derive/crowdingResponse.ts";
import { type EarComponents, earComponents } from "../derive/earComponents.ts";
import type { EarRow } from "../derive/earComponentsRows.ts";
import { type EarColumn, earColumn } from "../trial/earColumns.ts";
import type { Plot, Trial } from "../trial/trial.ts";
import { convertDensity, convertYield } from "../trial/units.ts";
import type { PlantResponse, SideBySide, TraitCrowding } from "./plantResult.ts";

/** Intervals of differences between all pairs say nothing, and cost much, beyond. */
const MOST_HYBRIDS = 40;

/** A trait column that was measured on some plots. */
interface Found {
  readonly name: string;
  readonly column: EarColumn | null;
}

/**
 * Ear components and crowding responses of the plots that have them; null when the file has no such column.
 *
 * @param plots - plots not excluded with a density and a yield
 * @param flexScores - flex score of each hybrid's fitted curve, by name; a hybrid without one is left out
 */
export function plantResponse(
  trial: Trial,
  plots: readonly Plot[],
  flexScores: Readonly<Record<string, number>>,
  level: number,
): PlantResponse | null {
  const found = columnsOf(trial, plots);
  if (found.length === 0) return null;
  const notes: string[] = [];
  const { ears, reason } = earsOf(trial, plots, found, flexScores, level, notes);
  const wanted = found.filter(({ column }) => column === null || column.part === "plantTrait");
  const few = new Set(plots.map(({ hybrid }) => hybrid)).size <= MOST_HYBRIDS;
  if (!few && wanted.length > 0)
    notes.push(`Crowding responses are given for up to ${MOST_HYBRIDS} hybrids; call crowdingResponse for more.`);
  const traits = few ? wanted.flatMap(({ name }) => crowdingOf(name, plots, level)) : [];
  if (ears === null && traits.length === 0 && reason === null && notes.length === 0) return null;
  return {
    ears,
    earsReason: reason,
    traits,
    sideBySide: traits.flatMap((trait) => rowsOf(trait, flexScores)),
    notes,
  };
}

/** Columns of ears and plants, in the order of the file. */
function columnsOf({ standTraits }: Trial, plots: readonly Plot[]): Found[] {
  const standing = new Set(standTraits.map(({ name }) => name));
  const names = new Set<string>();
  for (const plot of plots) for (const [name] of plot.traits) names.add(name);
  return [...names].flatMap((name) => {
    const column = standing.has(name) ? null : earColumn(name);
    return column === null && !standing.has(name) ? [] : [{ name, column }];
  });
}

function earsOf(
  trial: Trial,
  plots: readonly Plot[],
  found: readonly Found[],
  flexScore: Readonly<Record<string, number>>,
  level: number,
  notes: string[],
): { ears: EarComponents | null; reason: string | null } {
  const none = (reason: string | null) => ({ ears: null, reason });
  const parts = new Set(found.flatMap(({ column }) => (column === null ? [] : [column.part])));
  parts.delete("plantTrait");
  if (parts.size === 0) return none(null);
  const missing = [
    ...(parts.has("earsPerPlant") || (parts.has("ears") && parts.has("plants")) ? [] : ["ears per plant"]),
    ...(parts.has("rowsPerEar") ? [] : ["rows per ear"]),
    ...(parts.has("kernelsPerRow") || parts.has("kernelsPerEar") ? [] : ["kernels per row"]),
    ...(parts.has("kernelMass") ? [] : ["kernel mass (with mg or g in its header)"]),
  ];
  if (missing.length > 0) return none(`ears cannot be split without ${missing.join(", ")}`);
  const rows = plots.flatMap((plot) => earRow(trial, plot, found) ?? []);
  const left = plots.length - rows.length;
  if (rows.length === 0) return none("no plot has all ear components above 0");
  if (left > 0) notes.push(`${left} plots without all ear components were left out of the split.`);
  notes.push("Kernel mass is taken at the moisture at which yield is stated.");
  return { ears: earComponents(rows, { level, flexScore }), reason: null };
}

function earRow(trial: Trial, plot: Plot, found: readonly Found[]): EarRow | null {
  const values: Partial<Record<EarColumn["part"], number>> = {};
  for (const { name, column } of found) {
    if (column === null || column.part === "plantTrait") continue;
    const value = numberOf(plot, name);
    if (value !== null && value > 0) values[column.part] ??= value * column.factor;
  }
  const { ears, plants, rowsPerEar, kernelMass } = values;
  const earsPerPlant = values.earsPerPlant ?? (ears !== undefined && plants !== undefined ? ears / plants : undefined);
  const kernelsPerRow =
    values.kernelsPerRow ??
    (values.kernelsPerEar !== undefined && rowsPerEar !== undefined ? values.kernelsPerEar / rowsPerEar : undefined);
  if (
    earsPerPlant === undefined ||
    rowsPerEar === undefined ||
    kernelsPerRow === undefined ||
    kernelMass === undefined ||
    !((plot.density as number) > 0)
  )
    return null;
  return {
    hybrid: plot.hybrid,
    block: blockOf(plot),
    density: plot.density as number,
    earsPerPlant,
    rowsPerEar,
    kernelsPerRow,
    kernelMass,
    weighedPerPlant: weighed(trial, plot),
  };
}

/** Grain per plant as harvested, g; null when the stand is not known or nothing was harvested. */
function weighed({ yieldUnit, densityUnit, densityAxis, establishment, crop }: Trial, plot: Plot): number | null {
  const stand =
    densityAxis === "seeding-rate"
      ? (plot.stand ?? (establishment === null ? null : (plot.density as number) * establishment))
      : plot.density;
  if (stand === null || !(stand > 0) || plot.yield === null || !(plot.yield > 0)) return null;
  return convertYield(plot.yield, yieldUnit, "g/m2", crop) / convertDensity(stand, densityUnit, "plants/m2");
}

function crowdingOf(name: string, plots: readonly Plot[], level: number): TraitCrowding[] {
  const rows = plots.flatMap((plot) => {
    const value = numberOf(plot, name);
    const usable = value !== null && value > 0 && (plot.yield as number) > 0 && (plot.density as number) > 0;
    return usable ? [{ plot, value }] : [];
  });
  if (rows.length === 0) return [];
  const response = crowdingResponse(
    {
      density: rows.map(({ plot }) => plot.density as number),
      trait: rows.map(({ value }) => value),
      block: rows.map(({ plot }) => blockOf(plot)),
      hybrid: rows.map(({ plot }) => plot.hybrid),
      yield: rows.map(({ plot }) => plot.yield as number),
    },
    { level },
  );
  return [{ trait: name, response }];
}

function rowsOf({ trait, response }: TraitCrowding, flexScores: Readonly<Record<string, number>>): SideBySide[] {
  return response.hybrids.map((one) => ({
    hybrid: one.hybrid,
    trait,
    plots: one.nobs,
    flexScore: Object.hasOwn(flexScores, one.hybrid) ? flexScores[one.hybrid] : null,
    yieldSlope: one.yield?.slope ?? null,
    yieldInterval: one.yield?.interval ?? null,
    traitSlope: one.slope,
    traitInterval: one.interval,
    percentPerTenth: one.percentPerTenth,
    reading: one.reading,
  }));
}

function numberOf(plot: Plot, name: string): number | null {
  const value = plot.traits.find(([own]) => own === name)?.[1];
  return typeof value === "number" ? value : null;
}

function blockOf({ environment, block }: Plot): string {
  return JSON.stringify([environment, block]);
}
