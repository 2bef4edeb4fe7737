import { describe, expect, test } from "vitest";
import { checkInput, inputIssue } from "../../src/recommend/checkInput.ts";
import { estimateSchema, type InputSchema } from "../../src/recommend/inputSchema.ts";

const place = { row: 3, what: "zone 3" };
const codes = (value: unknown, schema: InputSchema) =>
  checkInput(value, schema, place).map(({ code, column }) => `${code} ${column ?? "-"}`);

describe("checkInput", () => {
  test("bounds: at least and at most allow their figure, above and below do not (JSON Schema 2020-12, 6.2)", () => {
    const closed: InputSchema = { type: "number", minimum: 0, maximum: 1 };
    const open: InputSchema = { type: "number", exclusiveMinimum: 0, exclusiveMaximum: 1 };
    for (const value of [0, 1, 0.5]) expect(codes(value, closed)).toEqual([]);
    for (const value of [-0.1, 1.1]) expect(codes(value, closed)).toEqual(["out-of-bounds -"]);
    for (const value of [0, 1, -0.1, 1.1]) expect(codes(value, open)).toEqual(["out-of-bounds -"]);
    expect(codes(0.5, open)).toEqual([]);
    const rules = [-0.1, 1.1].flatMap((value) => checkInput(value, closed, place).map(({ rule }) => rule));
    expect(rules).toEqual(["must be at least 0", "must be at most 1"]);
    const strict = [0, 1].flatMap((value) => checkInput(value, open, place).map(({ rule }) => rule));
    expect(strict).toEqual(["must be above 0", "must be below 1"]);
    for (const value of [Number.NaN, Infinity, "1", null, undefined, {}])
      expect(codes(value, closed)).toEqual(["not-a-number -"]);
  });
  test("texts: length and words", () => {
    const named: InputSchema = { type: "string", minLength: 2 };
    expect(codes("ab", named)).toEqual([]);
    expect(codes("a", named)).toEqual(["not-a-text -"]);
    expect(codes(12, named)).toEqual(["not-a-text -"]);
    expect(codes("", { type: "string" })).toEqual([]);
    const word: InputSchema = { type: "string", enum: ["ac", "ha"] };
    expect([codes("ha", word), codes("m2", word)]).toEqual([[], ["unknown-word -"]]);
    expect(checkInput("m2", word, place)[0].rule).toBe("must be one of ac, ha");
  });
  test("objects: what is missing, unknown or needed together, all at once and with the path", () => {
    const schema: InputSchema = {
      type: "object",
      properties: {
        a: { type: "number", description: "a figure" },
        b: { type: "object", properties: { c: { type: "number" } }, required: ["c"] },
        d: { type: "string" },
      },
      required: ["a"],
      dependentRequired: { d: ["b"] },
      additionalProperties: false,
    };
    expect(codes({ a: 1 }, schema)).toEqual([]);
    expect(codes({ a: 1, d: undefined, x: undefined }, schema)).toEqual([]);
    expect(codes({ d: "s", x: 1 }, schema)).toEqual(["missing-value a", "missing-value b", "unknown-property x"]);
    expect(codes({ a: "1", b: {} }, schema)).toEqual(["not-a-number a", "missing-value b.c"]);
    expect(codes({ a: 1, b: { c: null } }, schema)).toEqual(["not-a-number b.c"]);
    for (const bad of [[], null, "x", 3, undefined]) expect(codes(bad, schema)).toEqual(["not-an-object -"]);
    // names that every object inherits are unknown too
    expect(codes({ a: 1, toString: 1 }, schema)).toEqual(["unknown-property toString"]);
    expect(codes({ a: 1, x: 1 }, { ...schema, additionalProperties: true })).toEqual([]);
    const [missing] = checkInput({}, schema, place);
    expect(missing).toMatchObject({ severity: "error", row: 3, column: "a", received: null, remedy: "a figure" });
  });
  test("an estimate: a number or three in order, equal ones allowed", () => {
    const share = estimateSchema("a share", { minimum: 0, maximum: 1 });
    const three = (lowest: number, likely: number, highest: number) => codes({ lowest, likely, highest }, share);
    expect([codes(0.5, share), three(0.1, 0.2, 0.3), three(0.2, 0.2, 0.2)]).toEqual([[], [], []]);
    expect(three(0.3, 0.2, 0.4)).toEqual(["range-out-of-order -"]);
    expect(three(0.1, 0.4, 0.3)).toEqual(["range-out-of-order -"]);
    expect(three(0.1, 0.2, 1.3)).toEqual(["out-of-bounds highest"]);
    expect(codes({ lowest: 0.1, likely: 0.2 }, share)).toEqual(["missing-value highest"]);
    expect(codes({ lowest: 0.1, likely: 0.2, highest: 0.3, mean: 1 }, share)).toEqual(["unknown-property mean"]);
    expect(codes(1.5, share)).toEqual(["out-of-bounds -"]);
    expect(codes("0.5", share)).toEqual(["not-a-number -"]);
    expect(codes(null, share)).toEqual(["not-a-number -"]);
    expect(checkInput(1.5, share, place)[0].remedy).toBe("a share");
  });
});

test("inputIssue: place, path, value cut at 60 characters, rule and remedy in one sentence", () => {
  const issue = (path: string, value: unknown) =>
    inputIssue(place, path, value, "some-code", "must be so", "make it so");
  expect(issue("a.b", 7)).toEqual({
    severity: "error",
    code: "some-code",
    row: 3,
    column: "a.b",
    received: "7",
    rule: "must be so",
    remedy: "make it so",
    message: "zone 3, a.b: must be so (found 7). make it so.",
  });
  expect(issue("", undefined)).toMatchObject({
    column: null,
    received: null,
    message: "zone 3: must be so. make it so.",
  });
  expect(issue("a", "x".repeat(60)).received).toBe("x".repeat(60));
  expect(issue("a", "x".repeat(61)).received).toBe(`${"x".repeat(59)}…`);
  expect(issue("a", { b: 1 }).received).toBe('{"b":1}');
  expect(issue("a", () => 1).received).toMatch(/function/);
});
