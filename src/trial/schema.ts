import { checkShape } from "../core/checkShape.ts";
import { AnalysisError, check } from "../core/errors.ts";
import { shown } from "../core/shown.ts";
import { findCrop } from "./crops.ts";
import { headerWords } from "./headerWords.ts";
import { type Role, roleEntry, roleTable } from "./roles.ts";
import type { Crop, DensityUnit, Trial, YieldUnit } from "./trial.ts";
import { densityUnits, type LengthUnit, type Measure, yieldUnits } from "./units.ts";
import { type ColumnUnit, unitFromWords } from "./unitWords.ts";

/** Scale of a rating column and its worst end; the other end is the best. */
export interface RatingDeclaration {
  readonly scale: readonly [lowest: number, highest: number];
  readonly worst: number;
}

/** What the caller knows about the file. Everything is optional; what is left out is read from the headers or reported. */
export interface ReadSchema {
  /** Header of the column that has this role, as written in the file; null: no column has it, whatever its name. */
  readonly columns?: { readonly [R in Role]?: string | null };
  /** Unit of the column with this role, such as `{ yield: "bu/ac", seedingRate: "1000 seeds/ac" }`. */
  readonly units?: { readonly [R in Role]?: string };
  /**
   * Scale and worst end of columns with ratings, by header, such as `{ lodging_rating: { scale: [1, 9], worst: 9 } }`. A header
   * may say it itself: "lodging_rating_1_9_worst_9".
   */
  readonly ratings?: { readonly [header: string]: RatingDeclaration };
  /** Name of a crop in the crop table, or the crop's own figures. Default: the file's crop column, else maize. */
  readonly crop?: string | Crop;
  /** Unit of densities in the result; default: that of the file. */
  readonly densityUnit?: DensityUnit;
  /** Unit of yields in the result; default: that of the file. */
  readonly yieldUnit?: YieldUnit;
  /** Which density is fitted; default mean-stand when rates and stands are both known. */
  readonly densityAxis?: Trial["densityAxis"];
  /** Moisture at which yield is stated, percent; default: the crop's. */
  readonly standardMoisture?: number;
  /** Moisture of the yield column: already standard (default), as harvested, or a percentage. */
  readonly yieldMoisture?: "standard" | "harvest" | number;
  /** Stand / seeding rate, a share of 1, when stands were not counted. */
  readonly establishment?: number;
  /** Name for all plots when the file has no hybrid column. */
  readonly hybrid?: string;
  /** Name for the environment when the file has no such column. */
  readonly environment?: string;
  /** Row spacing, when it is the same everywhere and not in the file. */
  readonly rowWidth?: Measure<LengthUnit>;
  /** Length of row in which plants were counted, when it is the same everywhere. */
  readonly countLength?: Measure<LengthUnit>;
  /** Rows in which plants were counted; default 1. */
  readonly countRows?: number;
  /** Give a plot made of k sub-samples the weight k; default false. */
  readonly weightBySubSamples?: boolean;
  /** Decimal mark; default: found from the numbers. */
  readonly decimal?: "." | ",";
  /** Separator of the cells; default: found from the first lines. */
  readonly delimiter?: "," | ";" | "\t" | "|";
  /** More texts that mean "missing", such as "-999". */
  readonly missing?: readonly string[];
  /** Magnitudes that contradict the declared unit give a warning, not an error; default false. */
  readonly acceptMagnitudes?: boolean;
  /** Throw when the file has errors; default false. */
  readonly strict?: boolean;
  /** Longest text that is read, characters; default 200 million. */
  readonly maxCharacters?: number;
  /** Most rows below the header that are read; default 10 million, without limit where a file is read in parts. */
  readonly maxRows?: number;
  /** Most columns that are read; default and at most 10,000. */
  readonly maxColumns?: number;
  /** Issues of one kind in one column that are listed one by one; default 50. */
  readonly issueLimit?: number;
}

/** Most columns of a table. */
export const mostColumns = 10_000;

/** A schema after its values were checked. */
export interface Settings extends ReadSchema {
  readonly unitOf: ReadonlyMap<Role, ColumnUnit>;
  readonly columnOf: ReadonlyMap<Role, string | null>;
  readonly givenCrop: Crop | null;
}

/** Checks every value of a schema; the message names the option, the rule and the value. */
export function checkSchema(schema: ReadSchema): Settings {
  checkShape(schema, "schema", "object", "invalid-option");
  const option = (ok: boolean, name: string, rule: string, value: unknown): void =>
    check(ok, "invalid-option", `schema.${name} must be ${rule}; got ${show(value)}`);
  const oneOf = (name: string, value: unknown, allowed: readonly unknown[]): void =>
    option(value === undefined || allowed.includes(value), name, `one of ${allowed.map(show).join(", ")}`, value);
  oneOf("densityUnit", schema.densityUnit, densityUnits);
  oneOf("yieldUnit", schema.yieldUnit, yieldUnits);
  oneOf("densityAxis", schema.densityAxis, ["mean-stand", "plot-stand", "seeding-rate"]);
  oneOf("decimal", schema.decimal, [".", ","]);
  oneOf("delimiter", schema.delimiter, [",", ";", "\t", "|"]);
  const { standardMoisture, yieldMoisture, establishment, maxCharacters, issueLimit, countRows } = schema;
  const { maxRows, maxColumns } = schema;
  option(
    standardMoisture === undefined || within(standardMoisture, 0, 99),
    "standardMoisture",
    "a percentage from 0 to 99",
    standardMoisture,
  );
  option(
    yieldMoisture === undefined ||
      yieldMoisture === "standard" ||
      yieldMoisture === "harvest" ||
      within(yieldMoisture, 0, 99),
    "yieldMoisture",
    `"standard", "harvest" or a percentage from 0 to 99`,
    yieldMoisture,
  );
  option(
    establishment === undefined || (within(establishment, 0, 1) && establishment > 0),
    "establishment",
    "a share above 0 and up to 1 (92 % is 0.92)",
    establishment,
  );
  option(
    maxCharacters === undefined || within(maxCharacters, 1, 5e8),
    "maxCharacters",
    "a number from 1 to 500,000,000",
    maxCharacters,
  );
  option(maxRows === undefined || within(maxRows, 1, 1e9), "maxRows", "a number from 1 to 1,000,000,000", maxRows);
  option(
    maxColumns === undefined || within(maxColumns, 1, mostColumns),
    "maxColumns",
    "a number from 1 to 10,000",
    maxColumns,
  );
  option(
    issueLimit === undefined || within(issueLimit, 1, 1e6),
    "issueLimit",
    "a number from 1 to 1,000,000",
    issueLimit,
  );
  option(
    countRows === undefined || within(countRows, 1, 1000),
    "countRows",
    "a number of rows from 1 to 1000",
    countRows,
  );
  for (const name of ["rowWidth", "countLength"] as const) {
    const measure = schema[name];
    const ok =
      measure === undefined ||
      (measure !== null && measure.value > 0 && unitFromWords("length", [measure.unit]) === measure.unit);
    option(ok, name, `a measure such as { value: 30, unit: "in" }`, measure);
  }
  for (const [name, declared] of Object.entries(schema.ratings ?? {})) {
    const [low, high] = declared?.scale ?? [];
    const ok =
      typeof low === "number" &&
      typeof high === "number" &&
      low < high &&
      Number.isFinite(high - low) &&
      (declared.worst === low || declared.worst === high);
    option(
      ok,
      `ratings["${name.slice(0, 60)}"]`,
      "a scale of two numbers, the lower first, whose worst is one of the two, such as { scale: [1, 9], worst: 9 }",
      declared,
    );
  }
  const columnOf = new Map<Role, string | null>();
  for (const [role, header] of Object.entries(schema.columns ?? {})) {
    columnOf.set(knownRole(role, "columns"), header ?? null);
  }
  const unitOf = new Map<Role, ColumnUnit>();
  for (const [name, text] of Object.entries(schema.units ?? {})) {
    const role = knownRole(name, "units");
    const kind = roleEntry.get(role)?.kind ?? "text";
    const unit = unitFromWords(kind, headerWords(String(text)).words);
    option(
      unit !== null,
      `units.${name}`,
      `a unit of ${kind}${kind === "density" ? ` such as ${densityUnits.join(", ")}` : ""}${kind === "yield" ? ` such as ${yieldUnits.join(", ")}` : ""}`,
      text,
    );
    if (unit !== null) unitOf.set(role, unit);
  }
  return { ...schema, columnOf, unitOf, givenCrop: givenCrop(schema.crop) };
}

function givenCrop(crop: string | Crop | undefined): Crop | null {
  if (crop === undefined) return null;
  if (typeof crop === "string") {
    const found = findCrop(crop);
    check(
      found !== null,
      "invalid-option",
      `schema.crop "${crop}" is not in the crop table; give { name, poundsPerBushel, standardMoisture }`,
    );
    return { name: found.name, poundsPerBushel: found.poundsPerBushel, standardMoisture: found.standardMoisture };
  }
  checkShape(
    crop,
    "schema.crop",
    { name: "text", poundsPerBushel: "number|null", standardMoisture: "number" },
    "invalid-option",
  );
  const { name, poundsPerBushel, standardMoisture } = crop;
  const ok = (poundsPerBushel === null || poundsPerBushel > 0) && within(standardMoisture, 0, 99);
  check(
    ok,
    "invalid-option",
    `schema.crop needs poundsPerBushel above 0 (or null) and standardMoisture from 0 to 99; got ${show(crop)}`,
  );
  return { name: String(name), poundsPerBushel, standardMoisture };
}

function knownRole(name: string, option: string): Role {
  const role = roleTable.find((entry) => entry.role === name)?.role;
  if (role !== undefined) return role;
  throw new AnalysisError(
    "invalid-option",
    `schema.${option} names "${name}", which is not a column role; roles are ${roleTable.map((entry) => entry.role).join(", ")}`,
  );
}

const within = (value: unknown, low: number, high: number): boolean =>
  typeof value === "number" && value >= low && value <= high;
const show = (value: unknown): string => (typeof value === "string" ? JSON.stringify(shown(value)) : shown(value));
