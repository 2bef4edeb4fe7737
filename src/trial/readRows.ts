import type { ColumnMap } from "./columns.ts";
import type { Draft } from "./draft.ts";
import { exclusionMark } from "./exclusion.ts";
import type { IssueLog } from "./issueLog.ts";
import { labelReader } from "./labels.ts";
import { lodgingReader } from "./lodgingCells.ts";
import type { NumberContext } from "./quantities.ts";
import { readDensities } from "./readDensities.ts";
import { readHarvest } from "./readHarvest.ts";
import { readPlace } from "./readPlace.ts";
import type { ReadPlan } from "./readPlan.ts";
import { type RowCells, rowCells } from "./rowCells.ts";
import type { RatingDeclaration, Settings } from "./schema.ts";
import type { Cell, Table } from "./table.ts";
import { traitReader } from "./traitCells.ts";
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
  columns: ColumnMap,
  ratings: ReadonlyMap<number, RatingDeclaration>,
  plan: ReadPlan,
  { crop, densityUnit, yieldUnit }: RowTarget,
  settings: Settings,
  context: NumberContext,
): Draft[] {
  const { byRole } = columns;
  const cells = rowCells(table, byRole, context);
  const label = labelReader(context.log);
  const traits = traitReader(columns, ratings, context);
  const lodging = lodgingReader(byRole, context);
  const width = table.header.length;
  const usual = usualWidth(table);
  const shifted = shiftedReader(table, byRole, settings, context);
  return table.rows.map((row, i): Draft => {
    cells.open(i);
    if (row.length > width && isShifted(cells, row, width, usual)) return shifted(i);
    if (row.length < width) reportShort(cells, row, width);
    const { environment, site, year, block, hybrid, plot } = readPlace(cells, label, settings);
    const { seedingRate, stand } = readDensities(cells, plan, densityUnit, crop, settings);
    const harvest = readHarvest(cells, plan, yieldUnit, crop, settings);
    const weight = cells.needed("weight");
    if (weight === 0) cells.refuse("weight 0");
    const mark = exclusionMark(cells);
    const reasons = mark === null ? cells.reasons : [mark, ...cells.reasons];
    return {
      row: cells.row,
      rows: [cells.row],
      plot,
      environment,
      site,
      year,
      block,
      hybrid,
      seedingRate,
      stand,
      yield: harvest.yield,
      area: harvest.area,
      moisture: harvest.moisture,
      testWeight: cells.number("testWeight"),
      weight: weight === null || weight === 0 ? 1 : weight,
      lodging: lodging(row, cells.row),
      traits: traits(row, cells.row),
      position: readPosition(cells),
      excluded: reasons.length === 0 ? null : reasons.slice(0, 3).join("; "),
    };
  });
}

// Shared by all plots that have none: files of millions of rows must not pay for empty objects.
const noTraits: Draft["traits"] = Object.freeze([]);
const noPosition: Draft["position"] = Object.freeze({ row: null, column: null, order: null });

function readPosition(cells: RowCells): Draft["position"] {
  const row = cells.number("positionRow");
  const column = cells.number("positionColumn");
  const order = cells.number("order");
  return row === null && column === null && order === null ? noPosition : { row, column, order };
}

/** The most common number of cells in a row: many exports end every line with a few empty cells. */
function usualWidth({ rows }: Table): number {
  const counts = new Map<number, number>();
  for (const row of rows) counts.set(row.length, (counts.get(row.length) ?? 0) + 1);
  let usual = 0;
  for (const [width, count] of counts) if (count > (counts.get(usual) ?? 0)) usual = width;
  return usual;
}

/** Has a separator inside a cell pushed the cells of this row to the right? Then none of them can be trusted. */
function isShifted(cells: RowCells, row: readonly Cell[], width: number, usual: number): boolean {
  const extra = row.slice(width).some((text) => String(text).trim() !== "");
  if (!extra && row.length <= usual) return false;
  cells.report({
    severity: "error",
    code: "long-row",
    received: row.map(String).join(" | ").slice(0, 200),
    rule: `the header has ${width} ${width === 1 ? "cell" : "cells"} but this row has ${row.length}, so its cells may be shifted, and it was left out`,
    remedy: 'put cells that contain the separator in double quotes ("34,000" or "12,5" in a comma-separated file)',
  });
  return true;
}

/** Lists a shifted row as an excluded plot by what its labels say, without trusting or reporting any of its cells. */
function shiftedReader(
  table: Table,
  byRole: ColumnMap["byRole"],
  settings: Settings,
  context: NumberContext,
): (i: number) => Draft {
  const log: IssueLog = { ...context.log, add: () => undefined };
  const cells = rowCells(table, byRole, { ...context, log });
  const label = labelReader(log);
  return (i) => {
    cells.open(i);
    return {
      row: cells.row,
      rows: [cells.row],
      ...readPlace(cells, label, settings),
      plot: null,
      seedingRate: null,
      stand: null,
      yield: null,
      area: null,
      moisture: null,
      testWeight: null,
      weight: 1,
      lodging: [],
      traits: noTraits,
      position: noPosition,
      excluded: "the row has more cells than the header",
    };
  };
}

function reportShort(cells: RowCells, row: readonly Cell[], width: number): void {
  cells.report({
    severity: "warning",
    code: "short-row",
    rule: `the header has ${width} cells but this row has ${row.length}`,
    remedy: "the missing cells at its end were read as empty",
  });
}
