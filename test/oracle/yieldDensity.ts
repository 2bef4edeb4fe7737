import { readFileSync } from "node:fs";
import { sharedJson, sharedPresent } from "../sharedFolder.ts";

/** Estimate with its standard error as R 4.2.2 gives them; null where it does not exist. */
export interface ReferenceCoefficient {
  readonly est: number;
  readonly se: number | null;
}

/** One fitted family of the reference; fields differ by family, see yieldDensityLib.R. */
export interface ReferenceModel {
  readonly status?: string;
  readonly coef?: Readonly<Record<string, ReferenceCoefficient>>;
  readonly rss: number;
  readonly rss_infimum?: number;
  readonly [field: string]: unknown;
}

interface Group {
  readonly id: string;
  readonly csv: string;
  readonly filter: string | null;
  readonly group: Readonly<Record<string, string | number>>;
  readonly x: string;
  readonly y: string;
  readonly y_transform: string | null;
  readonly response_used: string;
  readonly models: Readonly<Record<string, ReferenceModel>> & { readonly reciprocal?: Readonly<Record<string, ReferenceModel>> };
  readonly economic_optimum: readonly Readonly<Record<string, unknown>>[];
  readonly quadratic_with_fixed_blocks?: Readonly<Record<string, unknown>>;
}

/** Plots of one group of a public trial with the answers of general software. */
export interface YieldDensityGroup {
  readonly id: string;
  readonly x: Float64Array;
  readonly y: Float64Array;
  /** Block labels where the file has blocks; the reference fits ignore them unless they say otherwise. */
  readonly block: readonly string[] | null;
  readonly reference: Group["models"];
  readonly economicOptimum: Group["economic_optimum"];
  readonly withBlocks: Readonly<Record<string, unknown>> | null;
}

type Row = Readonly<Record<string, string>>;

function rows(text: string): Row[] {
  const [head, ...lines] = text.trim().split(/\r?\n/);
  const names = head.split(",");
  return lines.map((line) => {
    const cells = line.split(",");
    return Object.fromEntries(names.map((name, j) => [name, cells[j]]));
  });
}

/** `a == 1 & b > 0`, or the same within `!( )`, as in the plan of the R script. */
function filterOf(text: string | null): (row: Row) => boolean {
  if (text === null) return () => true;
  const negated = text.startsWith("!");
  const terms = text.replace(/^!\(|\)$/g, "").split("&").map((term) => term.trim().split(/\s*(==|>)\s*/));
  return (row) => {
    const all = terms.every(([name, operator, value]) =>
      operator === ">" ? Number(row[name]) > Number(value) : row[name] === value.replaceAll("'", ""),
    );
    return all !== negated;
  };
}

const here = new URL(".", import.meta.url).pathname;
const sharedFolder = process.env.STANDCURVE_SHARED ?? new URL("../../../shared", import.meta.url).pathname;

/**
 * Every group of the public yield-density trials: 85 that may be distributed, and those "used with permission" (69 more)
 * when the shared folder stands beside the repository.
 *
 * Groups are formed as in yieldDensity.R: rows of one csv that pass the filter and share the grouping columns, with missing
 * yields left out; y is exponentiated or multiplied by x where the group says so.
 */
export function yieldDensityGroups(): YieldDensityGroup[] {
  const own = (JSON.parse(readFileSync(`${here}yieldDensity.json`, "utf8")) as { groups: Group[] }).groups;
  const ids = new Set(own.map((group) => group.id + group.filter));
  const all = sharedPresent ? sharedJson<{ groups: Group[] }>("data/reference/yield_density_share.json").groups : [];
  const groups = [...own, ...all.filter((group) => !ids.has(group.id + group.filter))];
  const plan = JSON.parse(readFileSync(`${here}yieldDensityPlan.json`, "utf8")) as { csv: string; block?: string }[];
  const files = new Map<string, Row[]>();
  return groups.map((group) => {
    const folder = own.includes(group) ? `${here}csv` : `${sharedFolder}/data/csv`;
    const path = `${folder}/${group.csv}`;
    if (!files.has(path)) files.set(path, rows(readFileSync(path, "utf8")));
    const keep = filterOf(group.filter);
    const label = plan.find((entry) => entry.csv === group.csv)?.block;
    const chosen = (files.get(path) ?? []).filter(
      (row) =>
        keep(row) &&
        Object.entries(group.group).every(([name, value]) => row[name] === String(value)) &&
        row[group.x] !== "NA" && row[group.y] !== "NA" && row[group.x] !== "" && row[group.y] !== "",
    );
    const x = Float64Array.from(chosen, (row) => Number(row[group.x]));
    const raw = Float64Array.from(chosen, (row) => Number(row[group.y]));
    const perPlant = group.response_used !== "y";
    return {
      id: group.id + (group.filter ? ` [${group.filter}]` : "") + (group.y_transform ? ` (${group.y_transform})` : ""),
      x,
      y: raw.map((v, i) => (group.y_transform === "exp" ? Math.exp(v) : perPlant ? v * x[i] : v)),
      block: label ? chosen.map((row) => row[label]) : null,
      reference: group.models,
      economicOptimum: group.economic_optimum,
      withBlocks: group.quadratic_with_fixed_blocks ?? null,
    };
  });
}
