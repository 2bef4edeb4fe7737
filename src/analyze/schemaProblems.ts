import type { Schema } from "./schemaParts.ts";

/** One place of a document that breaks a rule of its schema. */
export interface SchemaProblem {
  /** Names and numbers that lead there, such as `hybrids[0].pooled.meanYield`; "" for the whole document. */
  readonly path: string;
  /** What must hold, and what was found. */
  readonly rule: string;
}

/**
 * Every rule of a JSON Schema that a value breaks; empty when it fits.
 *
 * Knows the words that our schemas use (types, enum, const, bounds, pattern, items, properties, anyOf, oneOf, references into $defs). Where
 * several shapes are allowed, the problems of the shape meant are given: the one whose constant (`kind`, say) fits, else the closest.
 */
export function schemaProblems(value: unknown, schema: Schema): readonly SchemaProblem[] {
  return problemsOf(value, schema, (schema["$defs"] ?? {}) as Definitions, "");
}

type Definitions = Readonly<Record<string, Schema>>;
type Values = Readonly<Record<string, unknown>>;

function problemsOf(value: unknown, given: Schema, definitions: Definitions, path: string): readonly SchemaProblem[] {
  const schema = resolved(given, definitions);
  const shapes = (schema["anyOf"] ?? schema["oneOf"]) as readonly Schema[] | undefined;
  if (shapes !== undefined) return problemsOfShapes(value, shapes, definitions, path);
  const broken = brokenRule(value, schema);
  if (broken !== null) return [{ path, rule: `${broken}, got ${shown(value)}` }];
  if (Array.isArray(value)) {
    const items = schema["items"] as Schema | undefined;
    return items === undefined ? [] : value.flatMap((one, i) => problemsOf(one, items, definitions, `${path}[${i}]`));
  }
  return isObject(value) && schema["type"] === "object" ? problemsInside(value, schema, definitions, path) : [];
}

function problemsInside(value: Values, schema: Schema, definitions: Definitions, path: string): SchemaProblem[] {
  const properties = (schema["properties"] ?? {}) as Readonly<Record<string, Schema>>;
  const others = schema["additionalProperties"];
  const inside = (name: string): string => (path === "" ? name : `${path}.${name}`);
  const missing = ((schema["required"] ?? []) as readonly string[])
    .filter((name) => !Object.hasOwn(value, name) || value[name] === undefined)
    .map((name) => ({ path: inside(name), rule: "is missing" }));
  const wrong = Object.entries(value).flatMap(([name, one]) => {
    if (one === undefined) return [];
    const rule = Object.hasOwn(properties, name) ? (properties[name] as Schema) : others;
    if (rule === false) return [{ path: inside(name), rule: "is not a property of this format" }];
    return isObject(rule) ? problemsOf(one, rule, definitions, inside(name)) : [];
  });
  return [...missing, ...wrong];
}

/** Problems of the shape meant; none when one fits. Our shapes exclude each other, so "any" and "exactly one" are the same. */
function problemsOfShapes(
  value: unknown,
  shapes: readonly Schema[],
  definitions: Definitions,
  path: string,
): readonly SchemaProblem[] {
  const open = shapes.map((shape) => resolved(shape, definitions));
  if (value === null && open.some((shape) => shape["type"] === "null")) return [];
  const solid = open.filter((shape) => shape["type"] !== "null");
  const meant = solid.filter((shape) => constantsFit(value, shape));
  const found = (meant.length === 1 ? meant : solid).map((shape) => problemsOf(value, shape, definitions, path));
  return found.reduce((least, one) => (one.length < least.length ? one : least));
}

/** At least one property of the shape is a constant, and the value has them all. */
function constantsFit(value: unknown, shape: Schema): boolean {
  if (!isObject(value)) return false;
  const constants = Object.entries((shape["properties"] ?? {}) as Readonly<Record<string, Schema>>).filter(([, rule]) =>
    Object.hasOwn(rule, "const"),
  );
  return constants.length > 0 && constants.every(([name, rule]) => value[name] === rule["const"]);
}

/** The rule that the value itself breaks, without what is inside it. */
function brokenRule(value: unknown, schema: Schema): string | null {
  if (Object.hasOwn(schema, "const")) return value === schema["const"] ? null : `must be ${shown(schema["const"])}`;
  const choices = schema["enum"] as readonly unknown[] | undefined;
  if (choices !== undefined) return choices.includes(value) ? null : `must be one of ${choices.map(shown).join(", ")}`;
  const types = ([schema["type"] ?? []].flat() as string[]).map((type) => typeWords[type]);
  if (types.length > 0 && !types.some(([, fits]) => fits(value)))
    return `must be ${types.map(([words]) => words).join(" or ")}`;
  if (typeof value === "number") return brokenBound(value, schema);
  if (typeof value === "string") {
    const pattern = schema["pattern"] as string | undefined;
    return pattern === undefined || new RegExp(pattern, "u").test(value) ? null : `must have the form ${pattern}`;
  }
  if (Array.isArray(value)) {
    const { minItems = 0, maxItems = Number.POSITIVE_INFINITY } = schema as { minItems?: number; maxItems?: number };
    if (value.length < minItems || value.length > maxItems)
      return minItems === maxItems ? `must have ${minItems} items` : `must have ${minItems} to ${maxItems} items`;
  }
  return null;
}

function brokenBound(value: number, schema: Schema): string | null {
  const bound = (name: string): number | undefined => schema[name] as number | undefined;
  const [least, most, above, below] = ["minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum"].map(bound);
  if (least !== undefined && value < least) return `must be at least ${least}`;
  if (most !== undefined && value > most) return `must be at most ${most}`;
  if (above !== undefined && value <= above) return `must be above ${above}`;
  if (below !== undefined && value >= below) return `must be below ${below}`;
  return null;
}

const typeWords: Readonly<Record<string, readonly [string, (value: unknown) => boolean]>> = {
  object: ["an object", isObject],
  array: ["a list", Array.isArray],
  string: ["a text", (value) => typeof value === "string"],
  number: ["a number", (value) => typeof value === "number" && Number.isFinite(value)],
  integer: ["a whole number", Number.isInteger],
  boolean: ["true or false", (value) => typeof value === "boolean"],
  null: ["null", (value) => value === null],
};

function resolved(schema: Schema, definitions: Definitions): Schema {
  const name = schema["$ref"];
  return typeof name === "string" ? resolved(definitions[name.replace("#/$defs/", "")] as Schema, definitions) : schema;
}

function isObject(value: unknown): value is Values {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

/** A value in a sentence, shortened. */
function shown(value: unknown): string {
  if (Array.isArray(value)) return value.length === 1 ? "a list of 1" : `a list of ${value.length}`;
  if (isObject(value)) return "an object";
  if (typeof value !== "string") return String(value);
  return value.length > 60 ? `"${value.slice(0, 59)}…"` : `"${value}"`;
}
