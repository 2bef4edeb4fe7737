import { numberText } from "./numberText.ts";
import { plausibleRange } from "./plausible.ts";
import type { ReadPlan } from "./readPlan.ts";
import type { Role } from "./roles.ts";
import type { RowCells } from "./rowCells.ts";
import type { Settings } from "./schema.ts";
import type { Crop, DensityUnit } from "./trial.ts";
import { convertDensity, type LengthUnit, type Measure, metresPer } from "./units.ts";

/** Seeds dropped and plants grown on a plot, in the trial's density unit. */
export interface PlotDensities {
  readonly seedingRate: number | null;
  readonly stand: number | null;
}

/** Seeding rate and stand of a row; a stand from plants counted is count / (length x rows x row width). */
export function readDensities(
  cells: RowCells,
  plan: ReadPlan,
  unit: DensityUnit,
  crop: Crop,
  settings: Settings,
): PlotDensities {
  const seedingRate = checked(cells, plan.rateFrom, perArea(cells, plan.rateFrom, unit), unit, crop, settings);
  const counted = plan.standFrom === "count";
  const found = counted
    ? standFromCount(cells, settings, unit)
    : perArea(cells, plan.standFrom === "stand" ? "stand" : null, unit);
  const stand = checked(
    cells,
    counted ? "standCount" : plan.standFrom === "stand" ? "stand" : null,
    found,
    unit,
    crop,
    settings,
  );
  if (seedingRate === null && stand === null && cells.reasons.length === 0) {
    cells.refuse("no density");
    cells.report({
      severity: "error",
      code: "missing-density",
      column: cells.column(plan.rateFrom ?? (counted ? "standCount" : "stand"))?.header ?? null,
      rule: "every plot needs a seeding rate or a stand",
      remedy: "fill in the cell, or delete the row if it is not a plot",
    });
  }
  return { seedingRate, stand };
}

function perArea(cells: RowCells, role: Role | null, unit: DensityUnit): number | null {
  if (role === null) return null;
  const value = cells.needed(role);
  return value === null ? null : convertDensity(value, (cells.column(role)?.unit ?? unit) as DensityUnit, unit);
}

function standFromCount(cells: RowCells, settings: Settings, unit: DensityUnit): number | null {
  const count = cells.needed("standCount");
  const length = metres(cells, "countLength", settings.countLength);
  const width = metres(cells, "rowWidth", settings.rowWidth);
  const rows = cells.column("countRows") === null ? (settings.countRows ?? 1) : cells.needed("countRows");
  if (count === null || length === null || width === null || rows === null) return null;
  return convertDensity(count / (length * width * rows), "plants/m2", unit);
}

/** A length of the row's own, else the one declared for the whole file; metres. */
export function metres(cells: RowCells, role: Role, declared: Measure<LengthUnit> | undefined): number | null {
  if (cells.column(role) !== null) return cells.needed(role);
  return declared === undefined ? null : declared.value * metresPer[declared.unit];
}

function checked(
  cells: RowCells,
  role: Role | null,
  value: number | null,
  unit: DensityUnit,
  crop: Crop,
  settings: Settings,
): number | null {
  if (role === null || value === null) return value;
  const [low, high] = plausibleRange(crop).density;
  const plants = convertDensity(value, unit, "plants/m2");
  if (plants >= low && plants <= high) return value;
  const bounds = [low, high].map((bound) => numberText(convertDensity(bound, "plants/m2", unit), 3));
  const words = unit.replace("1000 ", "thousand ");
  reportImplausible(
    cells,
    role,
    `this is ${numberText(value, 3)} ${words}, and ${crop.name} is grown at ${bounds.join(" to ")}`,
    settings,
  );
  return value;
}

/** A single figure far outside what the crop can do: the plot stays out unless the caller accepts such magnitudes. */
export function reportImplausible(cells: RowCells, role: Role, rule: string, settings: Settings): void {
  const accept = settings.acceptMagnitudes === true;
  const header = cells.column(role)?.header ?? role;
  if (!accept) cells.refuse(`${header} is implausible`);
  cells.report({
    severity: accept ? "warning" : "error",
    code: "implausible-value",
    column: header,
    received: cells.cell(role),
    rule,
    remedy: accept
      ? "it was used, as schema.acceptMagnitudes asks"
      : "look for a lost or added digit or decimal mark; the plot was left out (schema.acceptMagnitudes keeps it)",
  });
}
