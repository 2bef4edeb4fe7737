import { cellNumber } from "./cellNumber.ts";
import type { ColumnMap } from "./columns.ts";
import type { Draft } from "./draft.ts";
import { exclusionMark } from "./exclusion.ts";
import { labelReader } from "./labels.ts";
import { lodgingReader } from "./lodgingCells.ts";
import type { NumberContext } from "./quantities.ts";
import { readDensities } from "./readDensities.ts";
import { readHarvest } from "./readHarvest.ts";
import { readPlace } from "./readPlace.ts";
import type { ReadPlan } from "./readPlan.ts";
import { type RowCells, rowCells } from "./rowCells.ts";
import type { Settings } from "./schema.ts";
import type { Cell, Table } from "./table.ts";
import type { Crop, DensityUnit, YieldUnit } from "./trial.ts";

/** Units and crop that the rows are read for. */
export interface RowTarget {
  readonly crop: Crop;
  readonly densityUnit: DensityUnit;
  readonly yieldUnit: YieldUnit;
}

/** Reads every row of a table into a draft of a plot; a row that cannot be used keeps its place, with the reason. */
export function readRows(
  table: Table,
  { byRole, traits }: ColumnMap,
  plan: ReadPlan,
  { crop, densityUnit, yieldUnit }: RowTarget,
  settings: Settings,
  context: NumberContext,
): Draft[] {
  const cells = rowCells(table, byRole, context);
  const label = labelReader(context.log);
  const lodging = lodgingReader(byRole, context);
  const width = table.header.length;
  const usual = usualWidth(table);
  return table.rows.map((row, i): Draft => {
    cells.open(i);
    if (row.length !== width) checkWidth(cells, row, width, usual);
    const place = readPlace(cells, label, settings);
    const densities = readDensities(cells, plan, densityUnit, crop, settings);
    const harvest = readHarvest(cells, plan, yieldUnit, crop, settings);
    const weight = cells.needed("weight");
    if (weight === 0) cells.refuse("weight 0");
    const mark = exclusionMark(cells);
    const reasons = mark === null ? cells.reasons : [mark, ...cells.reasons];
    return {
      row: cells.row,
      ...place,
      ...densities,
      ...harvest,
      testWeight: cells.number("testWeight"),
      weight: weight === null || weight === 0 ? 1 : weight,
      lodging: lodging(row, cells.row),
      traits: traits.flatMap(({ index, name }) => {
        const value = traitValue(row[index] ?? "", context);
        return value === null ? [] : [[name, value] as const];
      }),
      position: {
        row: cells.number("positionRow"),
        column: cells.number("positionColumn"),
        order: cells.number("order"),
      },
      excluded: reasons.length === 0 ? null : reasons.slice(0, 3).join("; "),
    };
  });
}

/** The most common number of cells in a row: many exports end every line with a few empty cells. */
function usualWidth({ rows }: Table): number {
  const counts = new Map<number, number>();
  for (const row of rows) counts.set(row.length, (counts.get(row.length) ?? 0) + 1);
  let usual = 0;
  for (const [width, count] of counts) if (count > (counts.get(usual) ?? 0)) usual = width;
  return usual;
}

function checkWidth(cells: RowCells, row: readonly Cell[], width: number, usual: number): void {
  const extra = row.slice(width).filter((text) => String(text).trim() !== "");
  const long = row.length > width;
  if (long && extra.length === 0 && row.length <= usual) return;
  if (long) cells.refuse("the row has more cells than the header");
  cells.report({
    severity: long ? "error" : "warning",
    code: long ? "long-row" : "short-row",
    received: long ? row.map(String).join(" | ").slice(0, 200) : null,
    rule: `the header has ${width} ${width === 1 ? "cell" : "cells"} but this row has ${row.length}`,
    remedy: long
      ? 'put cells that contain the separator in double quotes ("34,000" or "12,5" in a comma-separated file); the row was left out, because its cells may be shifted'
      : "the missing cells at its end were read as empty",
  });
}

function traitValue(cell: Cell, { decimal, missing }: NumberContext): number | string | null {
  const parsed = cellNumber(cell, decimal, missing);
  // Beyond 1e300 an average could overflow; such a cell is kept as the text it is.
  if (parsed.kind === "number" && Math.abs(parsed.value) < 1e300) return parsed.value;
  if (parsed.kind === "missing") return null;
  const text = String(cell).slice(0, 400).trim();
  return text.length > 200 ? `${text.slice(0, 199)}…` : text;
}
