import type { Issue } from "../core/issue.ts";
import { shown } from "../core/shown.ts";
import type { InputSchema } from "./inputSchema.ts";

/** Where an input came from, for the sentences. */
export interface InputPlace {
  /** Line of the file or number of the zone; null for a whole file. */
  readonly row: number | null;
  /** What it is called in a sentence: "field", "zone 3". */
  readonly what: string;
}

/**
 * Every rule of the schema that a value breaks, and every range whose three figures are out of order; all at once.
 *
 * @param path - names of the properties that lead to `value`, joined by dots; "" for the whole input
 */
export function checkInput(value: unknown, schema: InputSchema, place: InputPlace, path = ""): Issue[] {
  const issue = (code: string, rule: string, remedy: string): Issue[] => [
    inputIssue(place, path, value, code, rule, remedy),
  ];
  const means = schema.description ?? "see the schema";
  if (schema.anyOf !== undefined) return checkEstimate(value, schema, place, path);
  if (schema.type === "number") {
    if (typeof value !== "number" || !Number.isFinite(value)) return issue("not-a-number", "must be a number", means);
    const broken = brokenBound(value, schema);
    return broken === null ? [] : issue("out-of-bounds", broken, means);
  }
  if (schema.type === "string") {
    if (typeof value !== "string" || value.length < (schema.minLength ?? 0))
      return issue("not-a-text", "must be a text", means);
    if (schema.enum !== undefined && !schema.enum.includes(value))
      return issue("unknown-word", `must be one of ${schema.enum.join(", ")}`, means);
    return [];
  }
  if (typeof value !== "object" || value === null || Array.isArray(value))
    return issue("not-an-object", "must be an object of named values", means);
  const given = value as Readonly<Record<string, unknown>>;
  const properties = schema.properties ?? {};
  const inside = (name: string): string => (path === "" ? name : `${path}.${name}`);
  const issues: Issue[] = [];
  for (const name of schema.required ?? []) {
    if (given[name] === undefined)
      issues.push(
        inputIssue(
          place,
          inside(name),
          undefined,
          "missing-value",
          "is needed",
          properties[name]?.description ?? means,
        ),
      );
  }
  for (const [name, needs] of Object.entries(schema.dependentRequired ?? {})) {
    for (const need of needs) {
      if (given[name] !== undefined && given[need] === undefined)
        issues.push(
          inputIssue(
            place,
            inside(need),
            undefined,
            "missing-value",
            `is needed with ${name}`,
            properties[need]?.description ?? means,
          ),
        );
    }
  }
  for (const [name, one] of Object.entries(given)) {
    if (one === undefined) continue;
    const rule = Object.hasOwn(properties, name) ? properties[name] : undefined;
    if (rule !== undefined) issues.push(...checkInput(one, rule, place, inside(name)));
    else if (schema.additionalProperties === false) {
      const known = Object.keys(properties).join(", ");
      issues.push(
        inputIssue(place, inside(name), one, "unknown-property", "is not a known property", `known are ${known}`),
      );
    }
  }
  return issues;
}

function checkEstimate(value: unknown, schema: InputSchema, place: InputPlace, path: string): Issue[] {
  const [one, three] = schema.anyOf as readonly [InputSchema, InputSchema];
  const described = (rule: InputSchema): InputSchema => ({
    ...rule,
    ...(schema.description ? { description: schema.description } : {}),
  });
  if (typeof value !== "object" || value === null) {
    return checkInput(value, described(one), place, path);
  }
  const issues = checkInput(value, described(three), place, path);
  if (issues.length > 0) return issues;
  const { lowest, likely, highest } = value as { lowest: number; likely: number; highest: number };
  if (lowest <= likely && likely <= highest) return [];
  return [
    inputIssue(
      place,
      path,
      value,
      "range-out-of-order",
      "must have lowest <= likely <= highest",
      "put the three figures in order",
    ),
  ];
}

function brokenBound(
  value: number,
  { minimum, maximum, exclusiveMinimum, exclusiveMaximum }: InputSchema,
): string | null {
  if (minimum !== undefined && value < minimum) return `must be at least ${minimum}`;
  if (maximum !== undefined && value > maximum) return `must be at most ${maximum}`;
  if (exclusiveMinimum !== undefined && value <= exclusiveMinimum) return `must be above ${exclusiveMinimum}`;
  if (exclusiveMaximum !== undefined && value >= exclusiveMaximum) return `must be below ${exclusiveMaximum}`;
  return null;
}

/** One issue of an input, with its sentence. */
export function inputIssue(
  { row, what }: InputPlace,
  path: string,
  value: unknown,
  code: string,
  rule: string,
  remedy: string,
  severity: Issue["severity"] = "error",
): Issue {
  const received = value === undefined ? null : shown(value);
  const found = received === null ? "" : ` (found ${received})`;
  return {
    severity,
    code,
    row,
    column: path === "" ? null : path,
    received,
    rule,
    remedy,
    message: `${what}${path === "" ? "" : `, ${path}`}: ${rule}${found}. ${remedy}.`,
  };
}
