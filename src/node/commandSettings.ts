import type { AnalyzeOptions } from "../analyze/options.ts";
import { allFamilies, type Family } from "../curves/family.ts";
import { type Role, roleTable } from "../trial/roles.ts";
import type { RatingDeclaration, ReadSchema } from "../trial/schema.ts";
import type { Crop, DensityUnit, Trial, YieldUnit } from "../trial/trial.ts";
import { densityUnits, type LengthUnit, type Measure, metresPer, yieldUnits } from "../trial/units.ts";
import type { CommandArguments } from "./commandArguments.ts";
import { suggestion } from "./suggestion.ts";

/** Options of the command line as the library takes them, with everything that is wrong about their values. */
export interface CommandSettings {
  readonly schema: ReadSchema;
  readonly analyze: AnalyzeOptions;
  readonly problems: readonly string[];
}

const roles: readonly string[] = roleTable.map((entry) => entry.role);

/** Reads the values of all options; nothing throws, all problems are collected. */
export function commandSettings({ values, switches }: CommandArguments): CommandSettings {
  const problems: string[] = [];
  const text = (name: string): string | undefined => values.get(name)?.[0];
  const number = (name: string, rule: string, fits: (value: number) => boolean): number | undefined => {
    const given = text(name);
    if (given === undefined) return undefined;
    const value = given.trim() === "" ? Number.NaN : Number(given);
    if (Number.isFinite(value) && fits(value)) return value;
    const comma = /^\d+,\d+$/.test(given) ? " (write decimals with a point)" : "";
    problems.push(`--${name} must be ${rule}, got "${given}"${comma}`);
    return undefined;
  };
  const oneOf = <T extends string>(name: string, allowed: readonly T[]): T | undefined => {
    const given = text(name);
    if (given === undefined) return undefined;
    const found = allowed.find((one) => one === given);
    if (found !== undefined) return found;
    const near = suggestion(given, allowed);
    problems.push(
      `--${name} must be one of ${allowed.join(", ")}, got "${given}"${near === null ? "" : `; did you mean ${near}?`}`,
    );
    return undefined;
  };
  const pairs = (name: string): readonly (readonly [Role, string])[] =>
    (values.get(name) ?? []).flatMap((given) => {
      const at = given.indexOf("=");
      const role = at === -1 ? given : given.slice(0, at);
      if (at === -1)
        problems.push(`--${name} must be written ROLE=${name === "unit" ? "UNIT" : "HEADER"}, got "${given}"`);
      if (!roles.includes(role)) {
        const near = suggestion(role, roles);
        problems.push(
          `--${name} names "${role}", which is not a column role${near === null ? `; roles are ${roles.join(", ")}` : `; did you mean ${near}?`}`,
        );
      }
      return at === -1 || !roles.includes(role) ? [] : [[role as Role, given.slice(at + 1)] as const];
    });
  const length = (name: string): Measure<LengthUnit> | undefined => {
    const given = text(name);
    if (given === undefined) return undefined;
    const match = /^\s*(\d*\.?\d+)\s*([a-z]+)\s*$/.exec(given);
    const unit = match?.[2] as LengthUnit | undefined;
    if (match !== null && unit !== undefined && unit in metresPer && Number(match[1]) > 0) {
      return { value: Number(match[1]), unit };
    }
    problems.push(
      `--${name} must be a length such as 30in or 0.75m (${Object.keys(metresPer).join(", ")}), got "${given}"`,
    );
    return undefined;
  };
  const percent = (value: number): boolean => value >= 0 && value <= 99;
  const share = (value: number): boolean => value > 0 && value <= 1;

  const standardMoisture = number("standard-moisture", "a percentage from 0 to 99", percent);
  const schema = defined<ReadSchema>({
    crop: cropOf(
      text("crop"),
      number("bushel-weight", "a weight above 0", (lb) => lb > 0),
      standardMoisture,
      problems,
    ),
    standardMoisture,
    yieldMoisture: ["standard", "harvest"].includes(text("yield-moisture") ?? "")
      ? (text("yield-moisture") as "standard" | "harvest")
      : number("yield-moisture", "standard, harvest or a percentage from 0 to 99", percent),
    densityUnit: oneOf<DensityUnit>("density-unit", densityUnits),
    yieldUnit: oneOf<YieldUnit>("yield-unit", yieldUnits),
    columns: entries(pairs("column").map(([role, header]) => [role, header === "" ? null : header])),
    units: entries(pairs("unit")),
    ratings: ratingsOf(values.get("rating"), problems),
    densityAxis: oneOf<Trial["densityAxis"]>("axis", ["mean-stand", "plot-stand", "seeding-rate"]),
    establishment: number("establishment", "a share above 0 and up to 1 (95 % is 0.95)", share),
    hybrid: text("hybrid"),
    environment: text("environment"),
    rowWidth: length("row-width"),
    countLength: length("count-length"),
    countRows: number("count-rows", "a whole number from 1 to 1000", (n) => Number.isInteger(n) && n >= 1 && n <= 1000),
    missing: values.get("missing"),
    decimal: oneOf<"." | ",">("decimal", [".", ","]),
    delimiter: delimiterOf(text("delimiter"), problems),
    weightBySubSamples: switches.has("weight-by-sub-samples") || undefined,
    acceptMagnitudes: switches.has("accept-magnitudes") || undefined,
    strict: switches.has("strict") || undefined,
  });

  const notNegative = (value: number): boolean => value >= 0;
  const grainPrice = number("grain-price", "a price above 0", (value) => value > 0);
  const seedCost = number("seed-cost", "a cost of 0 or more", notNegative);
  const yieldCost = number("yield-cost", "a cost of 0 or more", notNegative);
  if (values.has("grain-price") !== values.has("seed-cost")) {
    problems.push(
      `--grain-price and --seed-cost go together; --${values.has("grain-price") ? "seed-cost" : "grain-price"} is missing`,
    );
  } else if (values.has("yield-cost") && !values.has("grain-price")) {
    problems.push("--yield-cost needs --grain-price and --seed-cost");
  }
  if (yieldCost !== undefined && grainPrice !== undefined && yieldCost >= grainPrice) {
    problems.push(`--yield-cost must be below --grain-price, got ${yieldCost} and ${grainPrice}`);
  }
  const whole = (value: number): boolean => Number.isSafeInteger(value) && value >= 0;
  const yieldGoal = number("yield-goal", "a yield above 0", (value) => value > 0);
  if (switches.has("beyond-levels-seen") && !values.has("yield-goal"))
    problems.push("--beyond-levels-seen needs --yield-goal");
  if (switches.has("no-mixed-models") && values.has("yield-goal"))
    problems.push("--yield-goal needs the mixed models that --no-mixed-models leaves out");
  const analyze = defined<AnalyzeOptions>({
    prices:
      grainPrice === undefined || seedCost === undefined
        ? undefined
        : { grainPrice, seedCostPerThousand: seedCost, ...(yieldCost === undefined ? {} : { yieldCost }) },
    between: betweenOf(text("between"), problems),
    level: number("level", "a share between 0 and 1 (95 % is 0.95)", (value) => value > 0 && value < 1),
    seed: number("seed", "a whole number of 0 or more", whole),
    resamples: number("resamples", "a whole number from 0 to 1,000,000", (value) => whole(value) && value <= 1e6),
    families: familiesOf(text("families"), problems),
    nearBestShare: number(
      "near-best-share",
      "a share from 0 and below 1 (1 % is 0.01)",
      (value) => value >= 0 && value < 1,
    ),
    nearBestLoss: number("near-best-loss", "a sum of 0 or more", notNegative),
    missBy: number("miss-by", "a density above 0", (value) => value > 0),
    byEnvironment: switches.has("pooled-only") ? false : undefined,
    toleratedLodging: shareOf("tolerated-lodging", text("tolerated-lodging"), { zero: false }, problems),
    lossShare: shareOf("loss", text("loss"), { zero: true }, problems),
    standability: switches.has("no-standability") ? false : undefined,
    scrutiny: switches.has("no-scrutiny") ? false : undefined,
    yieldGoal,
    extrapolateYieldGoal: switches.has("beyond-levels-seen") || undefined,
    mixedModels: switches.has("no-mixed-models") ? false : undefined,
  });
  return { schema, analyze, problems };
}

/** "0.1" or "10%": a number of 1 or more could be either, so it is refused. */
function shareOf(
  name: string,
  given: string | undefined,
  { zero }: { readonly zero: boolean },
  problems: string[],
): number | undefined {
  if (given === undefined) return undefined;
  const match = /^\s*(\d*\.?\d+|\d+\.)\s*(%?)\s*$/.exec(given);
  const value = match === null ? Number.NaN : Number(match[1]);
  const percent = match?.[2] === "%";
  const share = percent ? value / 100 : value;
  // The whole is said as 100%, since a bare 1 may mean one per cent.
  const fits = percent ? share <= 1 && (zero || share < 1) : share < 1;
  if (fits && (zero ? share >= 0 : share > 0)) return share;
  const doubt = !percent && value >= 1 ? `; write ${given.trim()}% if per cent is meant` : "";
  const comma = /^\s*\d+,\d+\s*%?\s*$/.test(given) ? " (write decimals with a point)" : "";
  problems.push(
    `--${name} must be a share ${zero ? "from 0 and below 1" : "between 0 and 1"}, such as 0.1, or a percentage with its sign, such as 10%${zero ? " (100% is all of it)" : ""}; got "${given}"${doubt}${comma}`,
  );
  return undefined;
}

function ratingsOf(given: readonly string[] | undefined, problems: string[]): ReadSchema["ratings"] {
  if (given === undefined) return undefined;
  const found: Record<string, RatingDeclaration> = {};
  for (const text of given) {
    const match = /^(.+)=\s*([\d.]+)\s*,\s*([\d.]+)\s*,\s*([\d.]+)\s*$/.exec(text);
    const [low, high, worst] = [Number(match?.[2]), Number(match?.[3]), Number(match?.[4])];
    if (match?.[1] !== undefined && low < high && (worst === low || worst === high)) {
      found[match[1].trim()] = { scale: [low, high], worst };
    } else {
      problems.push(
        `--rating must be written HEADER=LOWEST,HIGHEST,WORST with the worst one of the two ends, such as score=1,9,9; got "${text}"`,
      );
    }
  }
  return found;
}

function cropOf(
  name: string | undefined,
  poundsPerBushel: number | undefined,
  standardMoisture: number | undefined,
  problems: string[],
): string | Crop | undefined {
  if (poundsPerBushel === undefined) return name;
  if (name !== undefined && standardMoisture !== undefined) return { name, poundsPerBushel, standardMoisture };
  problems.push(
    "--bushel-weight describes a crop of your own: give --crop NAME and --standard-moisture PERCENT with it",
  );
  return undefined;
}

function delimiterOf(given: string | undefined, problems: string[]): "," | ";" | "\t" | "|" | undefined {
  if (given === undefined) return undefined;
  const mark = given === "tab" || given === "\\t" ? "\t" : given;
  if (mark === "," || mark === ";" || mark === "\t" || mark === "|") return mark;
  problems.push(`--delimiter must be one of "," ";" "|" tab, got "${given}"`);
  return undefined;
}

function betweenOf(given: string | undefined, problems: string[]): readonly [number, number] | undefined {
  if (given === undefined) return undefined;
  const parts = given.split(",").map((part) => (part.trim() === "" ? Number.NaN : Number(part)));
  const [low, high] = parts;
  if (parts.length === 2 && low !== undefined && high !== undefined && low > 0 && high > low && Number.isFinite(high)) {
    return [low, high];
  }
  problems.push(`--between must be two densities, the lower first, such as 20,38; got "${given}"`);
  return undefined;
}

function familiesOf(given: string | undefined, problems: string[]): readonly Family[] | undefined {
  if (given === undefined) return undefined;
  const names = given.split(",").map((name) => name.trim());
  const found: Family[] = [];
  for (const name of names) {
    const family = allFamilies.find((one) => one === name);
    const near = suggestion(name, allFamilies);
    if (family === undefined) {
      problems.push(
        `--families names "${name}", which is no curve${near === null ? `; curves are ${allFamilies.join(", ")}` : `; did you mean ${near}?`}`,
      );
    } else if (!found.includes(family)) found.push(family);
  }
  return found;
}

function entries<T>(list: readonly (readonly [Role, T])[]): { [R in Role]?: T } | undefined {
  return list.length === 0 ? undefined : (Object.fromEntries(list) as { [R in Role]?: T });
}

/** The object without the keys that were not given. */
function defined<T extends object>(object: { readonly [K in keyof T]: T[K] | undefined }): T {
  return Object.fromEntries(Object.entries(object).filter(([, value]) => value !== undefined)) as T;
}
