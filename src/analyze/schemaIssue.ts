import { shown } from "../core/shown.ts";
import type { Schema } from "./schemaParts.ts";

/**
 * The first rule of a JSON Schema that a value breaks, as a sentence with the path to it; null when it keeps them all. Knows the part
 * of JSON Schema 2020-12 that the schemas of this package use. Data nested deeper than the schema are refused, never walked.
 *
 * @param value - plain data
 * @param root - the whole schema, for its `$defs`
 */
export function schemaIssue(value: unknown, root: Schema): string | null {
  return broken(value, root, "", root);
}

function broken(value: unknown, schema: Schema, path: string, root: Schema): string | null {
  const reference = schema["$ref"];
  if (typeof reference === "string") {
    const name = reference.slice("#/$defs/".length);
    return broken(value, (root["$defs"] as Readonly<Record<string, Schema>>)[name] as Schema, path, root);
  }
  const any = (schema["anyOf"] ?? schema["oneOf"]) as readonly Schema[] | undefined;
  if (any !== undefined) {
    // A null that is allowed matches at once; of the others the closest one, which fails deepest, says what is wrong.
    const found = any.map((one) => broken(value, one, path, root));
    if (found.includes(null)) return null;
    return found.reduce((deepest, one) => (pathLength(one) > pathLength(deepest) ? one : deepest));
  }
  const place = path === "" ? "the whole" : path;
  const says = (rule: string): string => `${place} must be ${rule}; got ${shown(value)}`;
  if ("const" in schema) return value === schema["const"] ? null : says(shown(schema["const"]));
  const choices = schema["enum"] as readonly unknown[] | undefined;
  if (choices !== undefined) return choices.includes(value) ? null : says(`one of ${choices.map(shown).join(", ")}`);
  switch (schema["type"]) {
    case "null":
      return value === null ? null : says("null");
    case "boolean":
      return typeof value === "boolean" ? null : says("true or false");
    case "string":
      if (typeof value !== "string") return says("a text");
      return schema["pattern"] === undefined || new RegExp(String(schema["pattern"])).test(value)
        ? null
        : says("of its pattern");
    case "number":
    case "integer":
      return numberIssue(value, schema, says);
    case "array":
      return arrayIssue(value, schema, path, root, says);
    case "object":
      return objectIssue(value, schema, path, root, says);
    default:
      return null;
  }
}

const pathLength = (issue: string | null): number => (issue ?? "").split(" must be ")[0]?.length ?? 0;

function numberIssue(value: unknown, schema: Schema, says: (rule: string) => string): string | null {
  if (typeof value !== "number" || !Number.isFinite(value)) return says("a finite number");
  if (schema["type"] === "integer" && !Number.isInteger(value)) return says("a whole number");
  const bound = (name: string): number | undefined => schema[name] as number | undefined;
  if (value < (bound("minimum") ?? value)) return says(`at least ${bound("minimum")}`);
  if (value > (bound("maximum") ?? value)) return says(`at most ${bound("maximum")}`);
  if (value <= (bound("exclusiveMinimum") ?? -Infinity)) return says(`above ${bound("exclusiveMinimum")}`);
  if (value >= (bound("exclusiveMaximum") ?? Infinity)) return says(`below ${bound("exclusiveMaximum")}`);
  return null;
}

function arrayIssue(
  value: unknown,
  schema: Schema,
  path: string,
  root: Schema,
  says: (rule: string) => string,
): string | null {
  if (!Array.isArray(value)) return says("a list");
  const least = (schema["minItems"] as number | undefined) ?? 0;
  const most = (schema["maxItems"] as number | undefined) ?? Infinity;
  if (value.length < least || value.length > most) return says(`a list of ${least}${most === least ? "" : " or more"}`);
  const items = schema["items"] as Schema | undefined;
  if (items === undefined) return null;
  for (let i = 0; i < value.length; i++) {
    const found = broken(value[i], items, `${path}[${i}]`, root);
    if (found !== null) return found;
  }
  return null;
}

function objectIssue(
  value: unknown,
  schema: Schema,
  path: string,
  root: Schema,
  says: (rule: string) => string,
): string | null {
  if (typeof value !== "object" || value === null || Array.isArray(value)) return says("an object");
  const given = value as Readonly<Record<string, unknown>>;
  const properties = (schema["properties"] ?? {}) as Readonly<Record<string, Schema>>;
  const others = schema["additionalProperties"] as Schema | boolean | undefined;
  for (const name of (schema["required"] ?? []) as readonly string[])
    if (!Object.hasOwn(given, name) || given[name] === undefined) return `${inside(path, name)} must be there`;
  for (const name of Object.keys(given)) {
    if (given[name] === undefined) continue;
    const rule = Object.hasOwn(properties, name) ? properties[name] : others;
    if (rule === false) return `${inside(path, shown(name))} must be left out: no such property is known`;
    if (typeof rule !== "object") continue;
    const found = broken(given[name], rule, inside(path, shown(name)), root);
    if (found !== null) return found;
  }
  return null;
}

const inside = (path: string, name: string): string => (path === "" ? name : `${path}.${name}`);
