import { describe, expect, test } from "vitest";
import { lodgingCounts } from "../../src/standability/lodgingCounts.ts";
import { countOrder, lastCounts } from "../../src/trial/countOrder.ts";
import { dateText } from "../../src/trial/dateText.ts";
import { ratingOfHeader } from "../../src/trial/ratingScales.ts";
import { readTrial } from "../../src/trial/readTrial.ts";
import type { ReadSchema } from "../../src/trial/schema.ts";
import type { LodgingCount, Plot, Trial } from "../../src/trial/trial.ts";

function read(text: string, schema: ReadSchema = {}): { trial: Trial; plots: readonly Plot[]; codes: string[] } {
  const source = text
    .trim()
    .split("\n")
    .map((line) => line.trim().replaceAll(/ *\| */g, ","))
    .join("\n");
  const { trial, issues } = readTrial(source, { crop: "maize", ...schema });
  if (trial === null) throw new Error(issues.map(({ message }) => message).join("\n"));
  return { trial, plots: trial.plots, codes: issues.map(({ code, column }) => `${code} ${column}`) };
}

describe("push and pinch tests", () => {
  const { plots } = read(`
    hybrid | stand_k_ac | yield_bu_ac | stalk_lodged | plants_examined | push_test_failed | plants_pushed | Pinch test failed (%)
    A      | 30         | 200         | 3            | 50              | 4                | 20            | 15
  `);

  test("are kinds of their own, with the plants tested", () => {
    expect(plots[0].lodging).toEqual([
      { kind: "stalk", lodged: 3, examined: 50, date: null },
      { kind: "push", lodged: 4, examined: 20, date: null },
      { kind: "pinch", lodged: 7.5, examined: 50, date: null },
    ]);
  });

  test("are never added to lodged plants, because those stalks still stand", () => {
    expect(lodgingCounts(plots)).toMatchObject({ lodged: [3], examined: [50] });
    expect(lodgingCounts(plots, { kind: "push" })).toMatchObject({ lodged: [4], examined: [20] });
  });

  test("more failures than plants tested are an error, and the yield is kept", () => {
    const wrong = read(`
      hybrid | stand_k_ac | yield_bu_ac | push_test_failed | plants_pushed
      A      | 30         | 200         | 21               | 20
    `);
    expect(wrong.codes).toContain("lodged-above-examined push_test_failed");
    expect(wrong.plots[0]).toMatchObject({ yield: 200, lodging: [], excluded: null });
  });

  test("a file with a push test and no yield is a trial of standability", () => {
    const { codes } = read(`
      hybrid | stand_k_ac | push_test_failed | plants_pushed
      A      | 30         | 2                | 20
    `);
    expect(codes).toContain("no-yield-column null");
  });
});

describe("dates of counting", () => {
  test.each([
    ["2031-10-05", "2031-10-05"],
    ["2031/10/5", "2031-10-05"],
    ["5.10.2031", "2031-10-05"],
    ["10/25/2031", "2031-10-25"],
    ["25/10/2031", "2031-10-25"],
    ["10/10/2031", "2031-10-10"],
    ["5 Oct 2031", "2031-10-05"],
    ["October 5, 2031", "2031-10-05"],
    ["2031-10-05T09:30", "2031-10-05"],
    ["", ""],
    ["harvest", "harvest"],
    ["2031-13-05", "2031-13-05"],
  ])("%s is read as %s", (written, expected) => {
    expect(dateText(written)).toEqual({ text: expected, ambiguous: false });
  });

  test("5/10/2031 may be May or October: it stays as written and is reported once", () => {
    expect(dateText("5/10/2031")).toEqual({ text: "5/10/2031", ambiguous: true });
    const { codes } = read(`
      hybrid | stand_k_ac | yield_bu_ac | lodged | examined | date_counted
      A      | 30         | 200         | 1      | 50       | 5/10/2031
      A      | 36         | 205         | 2      | 50       | 5/10/2031
    `);
    expect(codes.filter((code) => code.startsWith("ambiguous-date"))).toHaveLength(1);
  });

  test("days after maturity stand beside the counts, before maturity too", () => {
    const { plots } = read(`
      hybrid | stand_k_ac | yield_bu_ac | lodged | examined | days_after_maturity
      A      | 30         | 200         | 1      | 50       | 12
      A      | 36         | 205         | 2      | 50       | -3
      A      | 40         | 205         | 2      | 50       |
    `);
    expect(plots.map(({ lodging }) => lodging[0].daysAfterMaturity)).toEqual([12, -3, undefined]);
  });

  test("the last count of each kind is the one nearest to harvest, by days when they are known", () => {
    const count = (kind: LodgingCount["kind"], date: string | null, days?: number): LodgingCount => ({
      ...{ kind, lodged: 1, examined: 50, date },
      ...(days === undefined ? {} : { daysAfterMaturity: days }),
    });
    const counts = [count("stalk", "2031-09-30"), count("stalk", "2031-10-12"), count("root", "2031-09-30")];
    expect(lastCounts(counts).map(({ kind, date }) => `${kind} ${date}`)).toEqual([
      "stalk 2031-10-12",
      "root 2031-09-30",
    ]);
    expect(countOrder(count("stalk", "9/30", 20), count("stalk", "10/12", 8))).toBeGreaterThan(0);
  });

  test("rows of one plot at several dates keep each count, and the plot stays one plot", () => {
    const { plots } = read(`
      hybrid | plot | stand_k_ac | yield_bu_ac | lodged | examined | date_counted
      A      | 1    | 30         | 200         | 1      | 50       | 2031-09-20
      A      | 1    | 30         | 200         | 6      | 50       | 2031-10-10
    `);
    expect(plots).toHaveLength(1);
    expect(plots[0].lodging.map(({ lodged, date }) => [lodged, date])).toEqual([
      [1, "2031-09-20"],
      [6, "2031-10-10"],
    ]);
  });
});

describe("ratings", () => {
  test.each([
    ["lodging_rating_1_9_worst_9", [1, 9], 9],
    ["Stalk score (1-9, best 1)", [1, 9], 9],
    ["Standability 1 to 5 best 5", [1, 5], 1],
    ["rating_9_1_worst_1", [1, 9], 1],
  ])("%s states its scale and its worst end", (header, scale, worst) => {
    expect(ratingOfHeader(header)).toEqual({ scale, worst });
  });

  test.each(["lodging_rating", "rating_1_9", "rating_1_9_worst_5", "1_9_worst_9", "rating_3_3_worst_3"])(
    "%s states no usable scale",
    (header) => {
      expect(ratingOfHeader(header)).toBeNull();
    },
  );

  test("a value outside its scale is an error and left out, the plot is kept", () => {
    const { trial, plots, codes } = read(`
      hybrid | stand_k_ac | yield_bu_ac | lodging_rating_1_9_worst_9
      A      | 30         | 200         | 3
      A      | 36         | 205         | 12
      A      | 40         | 205         | bad
      A      | 41         | 205         |
    `);
    expect(trial.ratings).toEqual([{ name: "lodging_rating_1_9_worst_9", scale: [1, 9], worst: 9 }]);
    expect(plots.map(({ traits }) => traits.map(([, value]) => value))).toEqual([[3], [], [], []]);
    expect(plots.every(({ excluded }) => excluded === null)).toBe(true);
    expect(codes).toContain("rating-outside-scale lodging_rating_1_9_worst_9");
    expect(codes).toContain("not-a-number lodging_rating_1_9_worst_9");
  });

  const plain = `
    hybrid | stand_k_ac | yield_bu_ac | root score
    A      | 30         | 200         | 3
  `;

  test("a scale may come from the schema, which takes the column from any other role", () => {
    const { trial } = read(plain, { ratings: { "Root score": { scale: [1, 5], worst: 1 } } });
    expect(trial.ratings).toEqual([{ name: "root score", scale: [1, 5], worst: 1 }]);
    expect(trial.standTraits).toEqual([]);
    expect(read(plain).trial.standTraits).toEqual([{ name: "root score", measure: "root-score", unit: null }]);
  });

  test("a header and a schema that disagree, an unknown header and a bare rating are reported", () => {
    const text = `
      hybrid | stand_k_ac | yield_bu_ac | lodging_rating_1_9_worst_9 | stalk rating
      A      | 30         | 200         | 3                          | 4
    `;
    const { codes, trial } = read(text, {
      ratings: { lodging_rating_1_9_worst_9: { scale: [1, 9], worst: 1 }, nowhere: { scale: [1, 9], worst: 9 } },
    });
    expect(codes).toContain("rating-conflict lodging_rating_1_9_worst_9");
    expect(codes).toContain("column-not-found null");
    expect(codes).toContain("rating-scale stalk rating");
    expect(trial.ratings).toEqual([{ name: "lodging_rating_1_9_worst_9", scale: [1, 9], worst: 1 }]);
  });

  test("a scale whose worst value is inside it is refused", () => {
    expect(() => read(plain, { ratings: { "root score": { scale: [1, 9], worst: 5 } } })).toThrow(
      /worst is one of the two/,
    );
  });
});

describe("traits of standing plants", () => {
  test("are found by their headers with the unit as written, and checked as numbers", () => {
    const { trial, plots, codes } = read(`
      hybrid | stand_k_ac | yield_bu_ac | stalk_diameter_mm | Rind strength (lbf) | plant height | ear_height_in
      A      | 30         | 200         | 22.5              | 40                  | 2.4          | 38
      A      | 36         | 205         | -21               | 0                   | x            | 39
    `);
    expect(trial.standTraits).toEqual([
      { name: "stalk_diameter_mm", measure: "stalk-diameter", unit: "mm" },
      { name: "Rind strength (lbf)", measure: "rind-strength", unit: "lbf" },
      { name: "plant height", measure: "plant-height", unit: null },
      { name: "ear_height_in", measure: "ear-height", unit: "in" },
    ]);
    expect(plots[0].traits).toEqual([
      ["stalk_diameter_mm", 22.5],
      ["Rind strength (lbf)", 40],
      ["plant height", 2.4],
      ["ear_height_in", 38],
    ]);
    expect(plots[1]).toMatchObject({ traits: [["ear_height_in", 39]], yield: 205, excluded: null });
    expect(codes).toEqual(
      expect.arrayContaining(["negative stalk_diameter_mm", "zero Rind strength (lbf)", "not-a-number plant height"]),
    );
  });

  test("a slipped digit is noticed", () => {
    const rows = [22.5, 23.1, 22.8, 225].map((mm, i) => `A | ${24 + 4 * i} | 200 | ${mm}`).join("\n");
    expect(read(`hybrid | stand_k_ac | yield_bu_ac | stalk_diameter_mm\n${rows}`).codes).toContain(
      "unusual-value stalk_diameter_mm",
    );
  });
});

describe("scales of lodging", () => {
  const percent = (values: readonly (number | string)[]) =>
    read(
      `hybrid | stand_k_ac | yield_bu_ac | root_lodging_pct\n${values.map((v, i) => `A | ${20 + i} | 200 | ${v}`).join("\n")}`,
    ).codes.filter((code) => /unit-magnitude|mixed-scale/.test(code));

  test("percentages that are all below 1 look like shares, and so do some beside real percentages", () => {
    expect(percent([0.02, 0.05, 0.12, 0])).toEqual(["unit-magnitude root_lodging_pct"]);
    expect(percent([0.02, 0.05, 12, 8])).toEqual(["mixed-scale root_lodging_pct"]);
  });

  test("ordinary percentages, with or without their sign, are left in peace", () => {
    expect(percent([2, 5, 12, 0.5, 0])).toEqual([]);
    expect(percent(["0.5%", "0.2%", "3%"])).toEqual([]);
  });

  test("a lodged count without plants examined is reported and left out", () => {
    const { codes, plots } = read(`
      hybrid | stand_k_ac | yield_bu_ac | lodged | examined
      A      | 30         | 200         | 4      |
      A      | 36         | 205         | 3      | 50
    `);
    expect(codes).toContain("lodged-without-examined lodged");
    expect(plots.map(({ lodging }) => lodging.length)).toEqual([0, 1]);
  });
});
