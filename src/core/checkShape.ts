import { AnalysisError, type ErrorCode } from "./errors.ts";
import { shown } from "./shown.ts";

/**
 * What an argument must look like before anything is asked of it. A word: number, count (up to ten million, so that no slip of
 * a digit runs for days), text, flag, function, numbers (a list of finite
 * numbers), holes (the same with nulls), labels (a list of texts or numbers), list, objects (a list of them), object, any, or the `schema` of a result of this package; "|null" allows null and
 * a "?" at the end that it is left out. Or an object of such words by property; other properties are not looked at.
 */
export type Shape = string | { readonly [property: string]: Shape };

// Squares of such numbers, and sums of products of them, stay finite and above zero; no density, yield or price comes near.
const largest = 1e100;
const smallest = 1e-100;

/**
 * Guard for the first lines of a public function: callers in plain JavaScript, and data from JSON, may hand over anything. What the values
 * may be is the business of the function itself.
 *
 * @throws AnalysisError `invalid-data` (or the given code) naming the property, the rule and the value received
 */
export function checkShape(value: unknown, name: string, shape: Shape, code: ErrorCode = "invalid-data"): void {
  if (typeof shape === "string") {
    const rule = brokenRule(value, name, shape);
    if (rule !== null) throw new AnalysisError(code, rule);
    return;
  }
  if (!isRecord(value)) throw new AnalysisError(code, `${name} must be an object; got ${shown(value)}`);
  for (const property of Object.keys(shape)) checkShape(value[property], property, shape[property] as Shape, code);
}

function brokenRule(value: unknown, name: string, shape: string): string | null {
  if (value === undefined && shape.endsWith("?")) return null;
  const [word = "", orNull] = shape.replace("?", "").split("|");
  if (value === null && orNull === "null") return null;
  const rule = words[word];
  if (rule === undefined)
    return isResult(value, word) ? null : `${name} must be a result with schema "${word}"; got ${shown(value)}`;
  if (word === "numbers" || word === "holes" || word === "labels") return brokenList(value, name, word);
  return rule.fits(value) ? null : `${name} must be ${rule.text}; got ${shown(value)}`;
}

const words: Readonly<Record<string, { readonly text: string; fits(value: unknown): boolean }>> = {
  number: {
    text: "a finite number, 1e100 at most",
    fits: (value) => typeof value === "number" && Math.abs(value) <= largest,
  },
  count: {
    text: "a number up to 10,000,000",
    fits: (value) => typeof value === "number" && Number.isFinite(value) && value <= 1e7,
  },
  text: { text: "a text", fits: (value) => typeof value === "string" },
  flag: { text: "true or false", fits: (value) => typeof value === "boolean" },
  function: { text: "a function", fits: (value) => typeof value === "function" },
  list: { text: "a list", fits: (value) => Array.isArray(value) },
  objects: { text: "a list of objects", fits: (value) => Array.isArray(value) && value.every(isRecord) },
  object: { text: "an object", fits: isRecord },
  any: { text: "there", fits: (value) => value !== undefined },
  numbers: { text: "a list of numbers", fits: () => true },
  holes: { text: "a list of numbers and nulls", fits: () => true },
  labels: { text: "a list of texts or numbers", fits: () => true },
};

function brokenList(value: unknown, name: string, word: "numbers" | "holes" | "labels"): string | null {
  if (!isList(value)) return `${name} must be ${words[word]?.text}; got ${shown(value)}`;
  for (let i = 0; i < value.length; i++) {
    const one = value[i];
    if (word === "holes" && (one === null || one === undefined || Number.isNaN(one))) continue;
    if (typeof one === "number" ? word === "labels" || isNumber(one) : word === "labels" && typeof one === "string")
      continue;
    return word !== "labels"
      ? `${name} must hold ${isHuge(one) ? "numbers that can be computed with (0, or from 1e-100 to 1e100)" : "finite numbers"}; ${name}[${i}] is ${shown(one)}. ${isHuge(one) ? "Check the unit." : "Leave missing plots out."}`
      : `${name} must hold texts or numbers; ${name}[${i}] is ${shown(one)}`;
  }
  return null;
}

const isHuge = (value: unknown): boolean => typeof value === "number" && Number.isFinite(value);
const isNumber = (value: number): boolean => value === 0 || (Math.abs(value) >= smallest && Math.abs(value) <= largest);

function isList(value: unknown): value is ArrayLike<unknown> {
  return Array.isArray(value) || (ArrayBuffer.isView(value) && "length" in value);
}

function isRecord(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

function isResult(value: unknown, schema: string): boolean {
  return isRecord(value) && value["schema"] === schema;
}
