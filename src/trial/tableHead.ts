import type { Issue } from "../core/issue.ts";
import { matchColumns } from "./columns.ts";
import { issueLog } from "./issueLog.ts";
import { plainLabel } from "./labels.ts";
import { decimalMark } from "./numberStyle.ts";
import { ratingColumns } from "./ratingScales.ts";
import { readTable } from "./readTable.ts";
import type { Role } from "./roles.ts";
import { checkSchema, type ReadSchema } from "./schema.ts";
import type { Cell, Table } from "./table.ts";
import { takeUnitRow } from "./unitRow.ts";

/** Who a row belongs to. */
export interface RowKey {
  readonly hybrid: string;
  readonly environment: string;
}

/** What the first rows of a long table settle for all of them. */
export interface TableHead {
  /** The caller's schema with the decimal mark found and the units of a row of units filled in. */
  readonly schema: ReadSchema;
  /** Rows of units to leave out at the top: 0 or 1. */
  readonly unitRows: number;
  /** Hybrid and environment of a row, spelled as reading spells them (but for capital letters). */
  keyOf(row: readonly Cell[]): RowKey;
  /** Errors about columns and units that no row can put right. */
  readonly errors: readonly Issue[];
}

/** These may concern the first rows only. */
const ofTheRows = new Set(["unknown-crop", "one-density", "no-rows"]);

/**
 * Settles columns, decimal mark and units of a table from its first rows, so that every part of it is read alike.
 *
 * @param sample - header and first rows
 * @throws AnalysisError `invalid-option` when the schema breaks a rule
 */
export function tableHead(sample: Table, schema: ReadSchema): TableHead {
  const settings = checkSchema(schema);
  const quiet = issueLog(sample.counts, 1);
  const ratings = ratingColumns(sample.header, settings, quiet);
  const { table, columns } = takeUnitRow(sample, matchColumns(sample, settings, quiet, ratings), quiet);
  const units = { ...schema.units } as { [R in Role]?: string };
  const unitRows = sample.rows.length - table.rows.length;
  if (unitRows > 0) for (const [role, { unit }] of columns.byRole) if (unit !== null) units[role] ??= unit;
  const numeric = [...columns.byRole.values()].filter(({ kind }) => kind !== "label" && kind !== "text");
  const decimal = decimalMark(table, numeric, settings, quiet);
  const settled: ReadSchema = { ...schema, decimal, ...(unitRows > 0 ? { units } : {}) };
  const index = (role: Role): number => columns.byRole.get(role)?.index ?? -1;
  const hybrid = index("hybrid");
  const own = index("environment");
  const places = own >= 0 ? [own] : (["site", "field", "year", "season"] as const).map(index).filter((at) => at >= 0);
  return {
    schema: settled,
    unitRows,
    keyOf(row) {
      const label = (at: number): string => plainLabel(String(row[at] ?? "")).label;
      const joined = places
        .map(label)
        .filter((part) => part !== "")
        .join(" ");
      return {
        hybrid: hybrid < 0 ? (schema.hybrid ?? "all plots") : label(hybrid) || "(none)",
        environment: places.length === 0 ? (schema.environment ?? "trial") : joined || "(none)",
      };
    },
    errors: readTable(sample, { ...schema, strict: false }).issues.filter(
      ({ severity, row, code }) => severity === "error" && row === null && !ofTheRows.has(code),
    ),
  };
}
