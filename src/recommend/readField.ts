import { AnalysisError, check } from "../core/errors.ts";
import type { Issue } from "../core/issue.ts";
import { parseJson } from "../core/parseJson.ts";
import { checkInput, inputIssue } from "./checkInput.ts";
import type { Field } from "./field.ts";
import { fieldSchema } from "./fieldSchema.ts";

/** A field, or null with at least one error among the issues. */
export interface FieldReading {
  readonly field: Field | null;
  readonly issues: readonly Issue[];
}

/**
 * Checks a field against its schema and reports everything that is wrong with it at once.
 *
 * @param source - text of a JSON file, or the object itself
 * @example
 * readField('{ "hybrid": "Amber 12", "planterStep": -1 }').issues.length; // => 1
 */
export function readField(source: unknown): FieldReading {
  const place = { row: null, what: "field" };
  let value = source;
  if (typeof source === "string") {
    const parsed = parseJson(source);
    if (parsed.kind === "bad") {
      const rule = `must be JSON: ${parsed.reason}`;
      return { field: null, issues: [inputIssue(place, "", undefined, "not-json", rule, "correct the text")] };
    }
    value = parsed.value;
  }
  const issues = checkInput(value, fieldSchema, place);
  return { field: issues.length === 0 ? (value as Field) : null, issues };
}

/** The field when nothing is wrong with it. */
export function checkedField(source: unknown): Field {
  check(
    typeof source === "object" && source !== null,
    "invalid-data",
    'field must be an object such as { hybrid: "Amber 12" }',
  );
  const { field, issues } = readField(source);
  if (field === null) throw new AnalysisError("invalid-data", issues.map(({ message }) => message).join("\n"));
  return field;
}
