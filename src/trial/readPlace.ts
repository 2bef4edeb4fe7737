import type { LabelReader } from "./labels.ts";
import type { Role } from "./roles.ts";
import type { RowCells } from "./rowCells.ts";
import type { Settings } from "./schema.ts";

/** Where a plot stands and what grows on it. */
export interface Place {
  readonly environment: string;
  readonly site: string | null;
  readonly year: string | null;
  readonly block: string;
  readonly hybrid: string;
  readonly plot: string | null;
}

/** Stands in for a label that is missing in a row that stays listed as excluded. */
const noLabel = "(none)";

/**
 * Environment, block, hybrid and plot id of a row. The environment is its own column, or site, field, year and season
 * joined; a block nested in a replicate is written "replicate/block"; without such columns all plots share one.
 */
export function readPlace(cells: RowCells, label: LabelReader, settings: Settings): Place {
  const read = (role: Role): string | null => {
    const column = cells.column(role);
    return column === null || cells.empty(role) ? null : label(cells.cell(role), column.header, cells.row);
  };
  const required = (role: Role, what: string): string => {
    const value = read(role);
    if (value !== null) return value;
    reportMissing(cells, role, what);
    return noLabel;
  };
  const site = read("site");
  const year = read("year");
  const placed = (["site", "field", "year", "season"] as const).find((role) => cells.column(role) !== null);
  const parts = [site, read("field"), year, read("season")].filter((part) => part !== null);
  let environment = parts.join(" ");
  if (cells.column("environment") !== null) environment = required("environment", "environment");
  else if (placed === undefined) environment = settings.environment ?? "trial";
  else if (parts.length === 0) environment = required(placed, "environment");
  return {
    environment,
    site,
    year,
    block: readBlock(cells, read, required),
    hybrid: cells.column("hybrid") === null ? (settings.hybrid ?? "all plots") : required("hybrid", "hybrid"),
    plot: read("plot"),
  };
}

function readBlock(
  cells: RowCells,
  read: (role: Role) => string | null,
  required: (role: Role, what: string) => string,
): string {
  const nested = cells.column("block") !== null && cells.column("replicate") !== null;
  if (nested) {
    const block = required("block", "block");
    const replicate = read("replicate");
    return replicate === null || replicate === block ? block : `${replicate}/${block}`;
  }
  if (cells.column("block") !== null) return required("block", "block");
  return cells.column("replicate") === null ? "1" : required("replicate", "block");
}

function reportMissing(cells: RowCells, role: Role, what: string): void {
  cells.refuse(`no ${what}`);
  cells.report({
    severity: "error",
    code: `missing-${what}`,
    column: cells.column(role)?.header ?? null,
    rule: `every plot needs its ${what}`,
    remedy: "fill in the cell (if the one above was meant, copy it down), or delete the row if it is not a plot",
  });
}
