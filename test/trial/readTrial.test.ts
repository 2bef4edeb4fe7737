import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { readTrial } from "../../src/trial/readTrial.ts";
import type { ReadSchema } from "../../src/trial/schema.ts";
import type { Trial } from "../../src/trial/trial.ts";
import { assertDigits } from "../assertDigits.ts";

const demo = (name: string): string => readFileSync(new URL(`../../data-demo/${name}`, import.meta.url), "utf8");

/** Reads lines given as text with | between cells, so that tests stay legible. */
function read(table: string, schema: ReadSchema = {}) {
  const lines = table.trim().split("\n");
  const { trial, issues } = readTrial(lines.map((line) => line.trim().replaceAll(/\s*\|\s*/g, ",")).join("\n"), {
    crop: "maize",
    ...schema,
  });
  return {
    trial,
    plots: trial?.plots ?? [],
    issues,
    codes: issues.map(({ code }) => code),
    of: (code: string) => issues.filter((issue) => issue.code === code),
  };
}
const good = (trial: Trial | null): Trial => {
  expect(trial).not.toBeNull();
  return trial as Trial;
};

const small = `
  hybrid   | block | seeding_rate_k_ac | stand_k_ac | yield_bu_ac
  Amber 12 | 1     | 24                | 23.0       | 190
  Amber 12 | 1     | 30                | 28.2       | 205
  Amber 12 | 1     | 36                | 34.4       | 201
  Amber 12 | 2     | 24                | 22.6       | 186
  Amber 12 | 2     | 30                | 28.6       | 203
  Amber 12 | 2     | 36                | 34.0       | 205`;

test("a tidy file gives its plots and nothing to complain about", () => {
  const { trial, issues } = read(small);
  expect(issues).toEqual([]);
  const { plots, ...rest } = good(trial);
  expect(rest).toMatchObject({
    schema: "standcurve/trial/1",
    densityUnit: "1000 plants/ac",
    yieldUnit: "bu/ac",
    densityAxis: "mean-stand",
    environments: ["trial"],
    hybrids: ["Amber 12"],
  });
  expect(plots.map((plot) => plot.row)).toEqual([2, 3, 4, 5, 6, 7]);
});

test("density is the mean counted stand of a rate in its environment, not the plot's own count", () => {
  const { plots } = read(small);
  for (const [i, mean] of [22.8, 28.4, 34.2, 22.8, 28.4, 34.2].entries()) assertDigits(plots[i].density, mean, 14);
  assertDigits(read(small).trial?.establishment, 170.8 / 180, 14);
  expect(read(small, { densityAxis: "plot-stand" }).plots.map((plot) => plot.density)).toEqual([
    23, 28.2, 34.4, 22.6, 28.6, 34,
  ]);
  expect(read(small, { densityAxis: "seeding-rate" }).plots.map((plot) => plot.density)).toEqual([
    24, 30, 36, 24, 30, 36,
  ]);
});

test("an excluded plot stays listed, with its reason, and out of the stand means", () => {
  const { trial, plots } = read(`
    hybrid | seeding_rate_k_ac | stand_k_ac | yield_bu_ac | exclude | exclude_reason
    A      | 24                | 23         | 190         |         |
    A      | 24                | 11         | 120         | yes     | planter skip
    A      | 30                | 28         | 205         | no      |
    A      | 36                | 34         | 201         | hail    |`);
  expect(plots.map((plot) => plot.excluded)).toEqual([
    null,
    "marked excluded: planter skip",
    null,
    "marked excluded: hail",
  ]);
  expect(plots[0].density).toBe(23);
  assertDigits(good(trial).establishment, 51 / 54, 14);
});

test("a yield column is taken as standard, wet when the header or the schema says so, and converted from another basis", () => {
  const table = (header: string) => `
    hybrid | stand_k_ac | ${header} | moisture_pct
    A      | 24         | 200       | 20
    A      | 30         | 210       | 20`;
  expect(read(table("yield_bu_ac")).plots[0].yield).toBe(200);
  expect(read(table("yield_bu_ac")).of("yield-moisture-assumed")).toHaveLength(1);
  const dry = (200 * 80) / 84.5;
  assertDigits(read(table("yield_wet_bu_ac")).plots[0].yield, dry, 14);
  assertDigits(read(table("yield_bu_ac"), { yieldMoisture: "harvest" }).plots[0].yield, dry, 14);
  assertDigits(
    read(table("yield_bu_ac"), { standardMoisture: 15, yieldMoisture: "harvest" }).plots[0].yield,
    (200 * 80) / 85,
    14,
  );
  assertDigits(read(table("Yield @15% (bu/ac)")).plots[0].yield, (200 * 85) / 84.5, 14);
  expect(read(table("dry_yield_bu_ac")).plots[0].yield).toBe(200);
});

test("10,000 lb at 20 % from one acre are 9,467.456 lb, that is 169.06 bushels per acre", () => {
  const { plots } = read(`
    hybrid | seeding_rate_k_ac | grain_weight_lb | plot_area_ac | moisture_pct
    A      | 24                | 10000           | 1            | 20
    A      | 30                | 10000           | 1            | 15.5`);
  assertDigits(plots[0].yield, 9467.4556 / 56, 8); // extension sheet AG442, as in the moisture test
  assertDigits(plots[1].yield, 10000 / 56, 14);
});

test("strip weight, length and width give the same yield in American and metric units", () => {
  const feet = read(`
    hybrid | seeding_rate_k_ac | weight_lb | strip_length_ft | strip_width_ft | moisture_pct
    A      | 24                | 2000      | 500             | 20             | 18
    A      | 30                | 2200      | 500             | 20             | 18`);
  const metres = read(
    `
    hybrid | seeding_rate_k_ac | weight_kg  | strip_length_m | strip_width_m | moisture_pct
    A      | 24                | 907.18474  | 152.4          | 6.096         | 18
    A      | 30                | 997.903214 | 152.4          | 6.096         | 18`,
    { yieldUnit: "bu/ac" },
  );
  for (const i of [0, 1]) assertDigits(metres.plots[i].yield, feet.plots[i].yield as number, 13);
  assertDigits(feet.plots[0].yield, ((2000 / 56) * 43560 * 82) / (500 * 20 * 84.5), 13);
  expect(
    read(`
    hybrid | seeding_rate_k_ac | weight_kg | strip_length_m | strip_width_m | moisture_pct
    A      | 24                | 900       | 152.4          | 6.096         | 18
    A      | 30                | 990       | 152.4          | 6.096         | 18`).trial?.yieldUnit,
  ).toBe("t/ha");
});

test("150 plants in 87.12 ft of 30-inch rows are 30,000 plants/ac", () => {
  // Illinois stand-count page: the measuring-wheel method.
  const { plots, trial } = read(
    `
    hybrid | plants_counted | counted_length_ft | row_width_in | yield_bu_ac
    A      | 150            | 87.12             | 30           | 200
    A      | 120            | 87.12             | 30           | 190`,
    { densityUnit: "plants/ac" },
  );
  assertDigits(plots[0].stand, 30_000, 13);
  expect(good(trial).densityAxis).toBe("plot-stand");
  const constants = read(
    `
    hybrid | plants_counted | yield_bu_ac
    A      | 32             | 200
    A      | 28             | 190`,
    { densityUnit: "plants/ac", countLength: { value: 17.424, unit: "ft" }, rowWidth: { value: 30, unit: "in" } },
  );
  assertDigits(constants.plots[0].stand, 32_000, 12); // 17.424 ft of 30-inch row is 1/1000 acre
});

test("rows with one plot id are averaged in proportion to their ground, counts are added, and it is said once", () => {
  const { plots, of } = read(`
    hybrid | block | plot | seeding_rate_k_ac | weight_lb | strip_length_ft | strip_width_ft | moisture_pct | stalk_lodged | plants_examined
    A      | 1     | 7    | 24                | 300       | 100             | 20             | 15.5         | 2            | 20
    A      | 1     | 7    | 24                | 150       | 40              | 20             | 15.5         | 1            | 20
    A      | 1     | 8    | 30                | 320       | 100             | 20             | 15.5         | 5            | 20`);
  expect(plots.map((plot) => plot.rows)).toEqual([[2, 3], [4]]);
  assertDigits(plots[0].yield, ((450 / 56) * 43560) / (140 * 20), 13); // as if both loads had been weighed together
  expect(plots[0].lodging).toEqual([{ kind: "stalk", lodged: 3, examined: 40, date: null }]);
  expect(of("sub-samples-averaged")).toHaveLength(1);
  expect(of("sub-samples-averaged")[0].message).toContain("2 rows were averaged to one plot");
  expect(plots[0].weight).toBe(1);
});

test("sub-samples can be carried as weights", () => {
  const table = `
    hybrid | plot | seeding_rate_k_ac | yield_bu_ac
    A      | 1    | 24                | 190
    A      | 1    | 24                | 194
    A      | 2    | 30                | 200`;
  const { plots } = read(table, { weightBySubSamples: true });
  expect(plots.map(({ weight, yield: grain }) => [weight, grain])).toEqual([
    [2, 192],
    [1, 200],
  ]);
});

test("one plot id with two hybrids or two rates is an error, and those rows stay out", () => {
  const { plots, of } = read(`
    hybrid | block | plot | seeding_rate_k_ac | yield_bu_ac
    A      | 1     | 7    | 24                | 190
    B      | 1     | 7    | 24                | 200
    A      | 1     | 8    | 30                | 205
    A      | 2     | 7    | 36                | 201`);
  expect(plots.map((plot) => plot.excluded !== null)).toEqual([true, true, false, false]);
  expect(of("plot-conflict")).toHaveLength(1);
  expect(of("plot-conflict")[0].message).toContain("plot 7 in block 1 of trial has A at 24 (line 2), B at 24 (line 3)");
});

test("repeated treatments without plot ids are read as plots, with a warning", () => {
  const { plots, of } = read(`
    hybrid | block | seeding_rate_k_ac | yield_bu_ac
    A      | 1     | 24                | 190
    A      | 1     | 24                | 194
    A      | 1     | 30                | 205`);
  expect(plots).toHaveLength(3);
  expect(of("repeated-treatment")[0]).toMatchObject({ severity: "warning", row: 3, count: 2 });
});

test("a missing unit is an error that names the likely one and how to declare it", () => {
  const { trial, of } = read(`
    hybrid | stand | yield
    A      | 24    | 190
    A      | 30    | 205`);
  expect(trial).toBeNull();
  expect(of("missing-unit").map((issue) => issue.message)).toEqual([
    'Column "stand": The stand must have a unit, and units are never guessed; numbers around 24 look like 1000 plants/ac or 1000 plants/ha. Put it in the header, as in "stand (1000 plants/ac)", or declare schema.units { stand: "1000 plants/ac" }.',
    'Column "yield": The yield must have a unit, and units are never guessed; numbers around 190 look like bu/ac or g/m2. Put it in the header, as in "yield (bu/ac)", or declare schema.units { yield: "bu/ac" }.',
  ]);
  expect(
    read(
      `
    hybrid | stand | yield
    A      | 24    | 190
    A      | 30    | 205`,
      { units: { stand: "1000 plants/ac", yield: "bu/ac" } },
    ).trial,
  ).not.toBeNull();
});

test("a density of 34 plants/ac and a maize yield of 11 bu/ac contradict their units", () => {
  const { trial, of } = read(`
    hybrid | stand_plants_ac | yield_bu_ac
    A      | 34              | 11.2
    A      | 30              | 10.8`);
  expect(trial).toBeNull();
  const messages = of("unit-magnitude")
    .map((issue) => issue.message)
    .join("\n");
  expect(messages).toContain("the likely unit is 1000 plants/ac".replace("the", "The"));
  expect(messages).toContain('declare schema.units { yield: "t/ha" }');
  const accepted = read(
    `
    hybrid | stand_plants_ac | yield_bu_ac
    A      | 34000           | 11.2
    A      | 30000           | 10.8`,
    { acceptMagnitudes: true },
  );
  expect(accepted.trial).not.toBeNull();
  expect(accepted.of("unit-magnitude")[0].severity).toBe("warning");
});

test("a single figure with a slipped digit keeps its plot out; a merely odd one is used with a warning", () => {
  const { plots, of } = read(`
    hybrid | stand_k_ac | yield_bu_ac
    A      | 240        | 190
    A      | 30         | 205
    A      | 36         | 20.7
    A      | 24         | 2050
    A      | 28         | 200`);
  expect(plots.map((plot) => plot.excluded !== null)).toEqual([true, false, false, true, false]);
  expect(of("implausible-value").map(({ row, received }) => [row, received])).toEqual([
    [2, "240"],
    [5, "2050"],
  ]);
  expect(of("unusual-value").map(({ row }) => row)).toEqual([4]);
});

test("columns are found by the caller's names before any header word", () => {
  const { trial, plots, of } = read(
    `
    What grew (plants/m2) | H | Korn  | stand_k_ac
    8                     | A | 11.2  | 99
    9                     | A | 11.9  | 99`,
    { columns: { stand: "What grew (plants/m2)", hybrid: "H", yield: "Korn" }, units: { yield: "t/ha" } },
  );
  expect(good(trial).densityUnit).toBe("plants/m2");
  expect(plots[0]).toMatchObject({ stand: 8, yield: 11.2, hybrid: "A" });
  expect(plots[0].traits).toEqual([["stand_k_ac", 99]]);
  expect(of("kept-as-traits")).toHaveLength(1);
});

test("a named column that the file lacks is reported with the headers there are", () => {
  const { of } = read(small, { columns: { yield: "Ertrag" } });
  expect(of("column-not-found")[0].message).toBe(
    'Found "Ertrag". Schema.columns.yield must be a header of this file. The headers are "hybrid", "block", "seeding_rate_k_ac", "stand_k_ac", "yield_bu_ac".',
  );
});

test("two columns that fit one role are never chosen between when the answer hangs on it", () => {
  const table = `
    hybrid | stand_k_ac | yield_bu_ac | grain_yield_t_ha
    A      | 24         | 190         | 11.9
    A      | 30         | 205         | 12.9`;
  const { trial, of } = read(table);
  expect(trial).toBeNull();
  expect(of("ambiguous-column")[0].severity).toBe("error");
  expect(read(table, { columns: { yield: "grain_yield_t_ha" } }).trial?.yieldUnit).toBe("t/ha");
  const wet = read(`
    hybrid | stand_k_ac | yield_wet_bu_ac | yield_dry_bu_ac
    A      | 24         | 200             | 190
    A      | 30         | 215             | 205`);
  expect(wet.plots[0].yield).toBe(190);
  expect(wet.of("ambiguous-column")[0].severity).toBe("note");
});

test("seeding rates by weight of seed are explained, not guessed", () => {
  const { trial, of } = read(`
    hybrid | seed_rate_kg_ha | yield_t_ha
    A      | 150             | 6.1`);
  expect(trial).toBeNull();
  expect(of("no-density-column")[0].message).toContain(
    '"seed_rate_kg_ha" looks like one, but "kg ha" is not a unit of plants or seeds per area',
  );
});

test("with one density axis only, that one is used and it is said", () => {
  const rates = read(
    `
    hybrid | seeding_rate_k_ac | yield_bu_ac
    A      | 24                | 190
    A      | 30                | 205`,
    { establishment: 0.95 },
  );
  expect(rates.trial).toMatchObject({ densityAxis: "seeding-rate", establishment: 0.95 });
  expect(rates.codes).toContain("one-density-axis");
  const asked = read(small.replaceAll(" | stand_k_ac", "").replaceAll(/ \| (2|3)\d\.\d /g, ""), {
    densityAxis: "plot-stand",
  });
  expect(asked.trial?.densityAxis).toBe("seeding-rate");
  expect(asked.codes).toContain("axis-not-possible");
});

test("a rate whose stand nobody counted takes the establishment of its environment, with a warning", () => {
  const { plots, of } = read(`
    hybrid | seeding_rate_k_ac | stand_k_ac | yield_bu_ac
    A      | 24                | 21.6       | 190
    A      | 30                |            | 205
    A      | 36                | 32.4       | 201`);
  assertDigits(plots[1].density, 27, 14);
  expect(of("stand-not-counted")[0].count).toBe(1);
});

test("lodging comes as counts, percentages or both; impossible counts are left out and the yield kept", () => {
  const { plots, of } = read(`
    hybrid | stand_k_ac | yield_bu_ac | stalk_lodged | stalks_examined | root_lodging_pct | green_snap | date_counted
    A      | 24         | 190         | 3            | 50              | 4                | 1          | 2031-10-05
    A      | 30         | 205         | 60           | 50              | 10%              |            | 2031-10-05
    A      | 36         | 201         | NA           | 50              | 120              |            |`);
  expect(plots[0].lodging).toEqual([
    { kind: "stalk", lodged: 3, examined: 50, date: "2031-10-05" },
    { kind: "root", lodged: 0.04, examined: null, date: "2031-10-05" },
  ]);
  expect(plots[1].lodging).toEqual([{ kind: "root", lodged: 0.1, examined: null, date: "2031-10-05" }]);
  expect(plots[2].lodging).toEqual([]);
  expect(plots.every((plot) => plot.excluded === null)).toBe(true);
  expect(of("lodged-above-examined")).toHaveLength(1);
  expect(of("above-100")).toHaveLength(1);
  expect(of("lodging-unit").map((issue) => issue.column)).toEqual(["green_snap"]);
});

test("a file with lodging but no yield is a trial of standability; stalks alone must be declared", () => {
  const lodging = read(`
    hybrid | stand_k_ac | lodged | examined
    A      | 24         | 2      | 50
    A      | 30         | 5      | 50`);
  expect(lodging.plots[0]).toMatchObject({ yield: null, excluded: null });
  expect(lodging.of("no-yield-column")[0].severity).toBe("warning");
  const stalks = `
    hybrid | stand_k_ac | stalk_mm
    A      | 24         | 25.1
    A      | 30         | 23.8`;
  expect(read(stalks).trial).toBeNull();
  expect(read(stalks, { columns: { yield: null } }).plots[1].traits).toEqual([["stalk_mm", 23.8]]);
});

test("a crop column sets bushel and moisture; an unknown or second crop is an error", () => {
  const table = (first: string, second: string) => `
    crop      | variety | stand_k_ac | yield_bu_ac
    ${first}  | A       | 100        | 45
    ${second} | A       | 140        | 52`;
  const soy = (rows: string) =>
    readTrial(
      rows
        .trim()
        .split("\n")
        .map((line) => line.trim().replaceAll(/\s*\|\s*/g, ","))
        .join("\n"),
    );
  expect(soy(table("Soybeans", "soy")).trial?.crop).toEqual({
    name: "soybean",
    poundsPerBushel: 60,
    standardMoisture: 13,
  });
  expect(soy(table("soy", "wheat")).trial).toBeNull();
  expect(soy(table("quinoa", "quinoa")).issues[0]).toMatchObject({ code: "unknown-crop", received: "quinoa" });
});

test("bushels of a crop without a bushel weight are an issue, not an exception", () => {
  const { trial, of } = read(
    `
    hybrid | stand_k_ac | yield_bu_ac
    A      | 20         | 45`,
    { crop: "sunflower" },
  );
  expect(trial).toBeNull();
  expect(of("bushel-weight-unknown")).toHaveLength(1);
});

test("titles, a row of units, repeated headers and blank rows are skipped and mentioned", () => {
  const { trial, issues } = readTrial(
    "Density trial;;\n\nhybrid;stand;yield\n;plants/m2;t/ha\nA;7,5;10,8\nA;9,0;11,2\nhybrid;stand;yield\nA;10,5;11,1\n\n;;\n",
    { crop: "maize" },
  );
  expect(good(trial).plots.map((plot) => [plot.row, plot.density, plot.yield])).toEqual([
    [5, 7.5, 10.8],
    [6, 9, 11.2],
    [8, 10.5, 11.1],
  ]);
  expect(issues.map(({ code, row }) => [code, row])).toEqual(
    expect.arrayContaining([
      ["title-line", 1],
      ["unit-row", 4],
      ["repeated-header", 7],
      ["blank-rows", null],
    ]),
  );
});

test("a separator named on the first line is followed, and lines still count from one", () => {
  const { trial } = readTrial("sep=;\r\nyield_t_ha;stand (plants/m2)\r\n10,8;7,5\r\n11,2;9\r\n", { crop: "maize" });
  expect(good(trial).plots.map((plot) => [plot.row, plot.yield])).toEqual([
    [3, 10.8],
    [4, 11.2],
  ]);
});

test("rates as applied, never repeated, are pointed out", () => {
  const rows = Array.from({ length: 8 }, (_, i) => ({
    seeding_rate_k_ac: 24.1 + 1.7 * i,
    stand_k_ac: 23 + 1.6 * i,
    yield_bu_ac: 200,
  }));
  expect(readTrial(rows, { crop: "maize" }).issues.map((issue) => issue.code)).toContain("rates-not-repeated");
});

test("thousands marks: 34,000 is read by the file's decimal mark and reported where nothing settles it", () => {
  const semicolon = (rows: string, schema: ReadSchema = {}) =>
    readTrial(`hybrid;stand (plants/ha);yield (t/ha)\n${rows}`, { crop: "maize", ...schema });
  const dots = semicolon("A;75.000;11,5\nA;85.000;12,5\n");
  expect(good(dots.trial).plots[0].stand).toBe(75000);
  expect(dots.issues.filter((issue) => issue.code === "ambiguous-number")).toEqual([]);
  const commas = semicolon("A;75,000;11,5\nA;85,000;12,5\n");
  expect(commas.trial).toBeNull(); // 75 plants/ha contradicts its unit
  expect(commas.issues.map((issue) => issue.code)).toEqual(
    expect.arrayContaining(["ambiguous-number", "unit-magnitude"]),
  );
  expect(commas.issues.find((issue) => issue.code === "ambiguous-number")?.message).toBe(
    'Line 2, column "stand (plants/ha)": found "75,000". The stand "75,000" may mean 75 or 75000, and no other number in this column tells which; it was read as 75 (decimal comma elsewhere in the file). If that is wrong, write the numbers without a thousands mark, or declare schema.decimal as ".".',
  );
  expect(semicolon("A;75,000;11.5\nA;85,000;12.5\n", { decimal: "." }).trial?.plots[0].stand).toBe(75000);
  const quoted = readTrial('hybrid,stand_ac,yield_bu_ac\nA,"34,000",201.5\nA,"30,000",199\n', { crop: "maize" });
  expect(quoted.trial?.plots[0].stand).toBe(34000);
  expect(quoted.issues.map((issue) => issue.code)).not.toContain("ambiguous-number");
});

test("a decimal comma without quotes in a comma-separated file shifts cells, so the row is left out", () => {
  const { trial, issues } = readTrial("hybrid,stand_k_ac,yield_bu_ac,notes\nA,24,190,\nA,30,205,3,\nA,36,201,\n", {
    crop: "maize",
  });
  expect(good(trial).plots.map((plot) => plot.excluded)).toEqual([
    null,
    "the row has more cells than the header",
    null,
  ]);
  expect(issues.find((issue) => issue.code === "long-row")?.row).toBe(3);
});

test("a file whose every row ends in empty cells is not ragged", () => {
  const { issues } = readTrial("hybrid,stand_k_ac,yield_bu_ac\nA,24,190,,\nA,30,205,,\nA,36,201,,\n", {
    crop: "maize",
  });
  expect(issues.filter((issue) => issue.severity !== "note")).toEqual([]);
});

test("headers and values named like an object's own parts do no harm", () => {
  const { trial } = readTrial(
    "hybrid,__proto__,constructor,stand_k_ac,yield_bu_ac\n__proto__,1,x,24,190\nconstructor,2,y,30,205\ntoString,3,z,36,200\n",
    { crop: "maize" },
  );
  expect(good(trial).hybrids).toEqual(["__proto__", "constructor", "toString"]);
  expect(good(trial).plots[0].traits).toEqual([
    ["__proto__", 1],
    ["constructor", "x"],
  ]);
  expect(({} as Record<string, unknown>)["polluted"]).toBeUndefined();
  const rows = JSON.parse(
    '[{"hybrid":"A","__proto__":{"polluted":1},"stand_k_ac":24,"yield_bu_ac":190},{"hybrid":"A","stand_k_ac":30,"yield_bu_ac":205}]',
  );
  expect(readTrial(rows, { crop: "maize" }).trial?.plots).toHaveLength(2);
  expect(({} as Record<string, unknown>)["polluted"]).toBeUndefined();
});

test("rows of a program are read as they are: numbers stay numbers, row numbers count the array", () => {
  const { trial, issues } = readTrial(
    [
      { hybrid: "A", stand_k_ac: 24, yield_bu_ac: 190, on: new Date(0), harvested: true },
      { hybrid: "A", stand_k_ac: 30.125, yield_bu_ac: Number.NaN },
      { hybrid: "A", stand_k_ac: 36, yield_bu_ac: Number.POSITIVE_INFINITY, more: null },
    ],
    { crop: "maize" },
  );
  const { plots, inputHash } = good(trial);
  expect(inputHash).toBeNull();
  expect(plots.map((plot) => [plot.row, plot.stand, plot.yield])).toEqual([
    [1, 24, 190],
    [2, 30.125, null],
    [3, 36, null],
  ]);
  expect(plots[0].traits).toEqual([
    ["on", "1970-01-01"],
    ["harvested", "yes"],
  ]);
  expect(issues.find((issue) => issue.code === "not-finite")?.message).toMatch(
    /^Row 3, column "yield_bu_ac": found "Infinity"/,
  );
});

test("what is no table is refused with a word on what it is", () => {
  const refused = (text: string, schema: ReadSchema = {}) => {
    try {
      readTrial(text, schema);
    } catch (error) {
      return `${(error as { code: string }).code}: ${(error as Error).message}`;
    }
    return "read";
  };
  expect(refused("PK\u0003\u0004xyz")).toMatch(/^unreadable-source: this is a spreadsheet workbook/);
  expect(refused("%PDF-1.7")).toMatch(/^unreadable-source: this is a PDF/);
  expect(refused("<!DOCTYPE html><html>")).toMatch(/^unreadable-source: this is a web page/);
  expect(refused("h\u0000y\u0000b\u0000r\u0000i\u0000d\u0000,\u0000x\u0000\n\u0000")).toMatch(
    /^unreadable-source: .*UTF-16/,
  );
  expect(refused("a,b\n1,2\n", { maxCharacters: 5 })).toMatch(
    /^unreadable-source: the text has 8 characters; at most 5 are read/,
  );
  expect(refused(small, { crop: "quinoa" })).toMatch(/^invalid-option: schema.crop "quinoa" is not in the crop table/);
  expect(refused(small, { units: { yield: "buckets" } })).toMatch(
    /^invalid-option: schema.units.yield must be a unit of yield/,
  );
  expect(refused(small, { columns: { yeld: "x" } as never })).toMatch(/names "yeld", which is not a column role/);
  expect(() => readTrial(7 as never)).toThrowError(expect.objectContaining({ code: "invalid-data" }));
});

test("strict reading throws one error that lists all problems", () => {
  const table = "hybrid,stand_k_ac,yield_bu_ac\nA,24,19O\nA,-30,205\nA,36,201\nA,30,207\n";
  expect(() => readTrial(table, { crop: "maize", strict: true })).toThrowError(
    expect.objectContaining({
      code: "data-problems",
      message:
        'the file has 2 errors:\n- Line 2, column "yield_bu_ac": found "19O". The yield must be a number. Correct the cell, or leave it empty if nothing was measured.\n- Line 3, column "stand_k_ac": found "-30". The stand cannot be negative. Correct the cell; if this number means missing, leave the cell empty or add it to schema.missing.',
    }),
  );
  expect(readTrial(table, { crop: "maize" }).trial?.plots).toHaveLength(4);
});

test("problems of one kind are listed up to the limit and then counted", () => {
  const rows = Array.from({ length: 120 }, (_, i) => `A,${20 + (i % 20)},x`).join("\n");
  const { issues } = readTrial(`hybrid,stand_k_ac,yield_bu_ac\nA,24,190\n${rows}\n`, { crop: "maize", issueLimit: 10 });
  const bad = issues.filter((issue) => issue.code === "not-a-number");
  expect(bad).toHaveLength(11);
  expect(bad.at(-1)).toMatchObject({ row: 13, count: 110 });
  expect(bad.at(-1)?.message).toContain("110 more rows have this problem");
});

test("the input hash is that of the file, the byte order mark included", () => {
  // printf 'hybrid,stand_k_ac,yield_bu_ac\nA,24,190\n' | sha256sum
  expect(readTrial("hybrid,stand_k_ac,yield_bu_ac\nA,24,190\n").trial?.inputHash).toBe(
    "39d36a6f55dee9298c8c0b4d22720228bb051a311687aa8fc655c30273fb8516",
  );
});

test("the demo trial of small plots reads without a warning", () => {
  const { trial, issues } = readTrial(demo("plots.csv"));
  const { plots, hybrids, environments, establishment } = good(trial);
  expect(issues.filter((issue) => issue.severity !== "note")).toEqual([]);
  expect([plots.length, hybrids.length, environments.length]).toEqual([432, 6, 3]);
  const truth = { "Northfield 2031": 0.96, "Westbrook 2031": 0.93, "Northfield 2032": 0.95 };
  for (const one of trial?.environmentEstablishment ?? []) {
    expect(one.plots).toBe(144);
    expect(one.establishment).toBeCloseTo(truth[one.environment as keyof typeof truth], 2);
  }
  expect(establishment).toBeCloseTo((0.96 + 0.93 + 0.95) / 3, 2); // truth of data-demo/README.md, counting error 2.5 %
});

test("the demo strips are forty plots of eight segments each", () => {
  const { trial, issues } = readTrial(demo("strips.csv"));
  expect(issues.filter((issue) => issue.severity !== "note")).toEqual([]);
  expect(good(trial).plots.map((plot) => plot.rows.length)).toEqual(Array(40).fill(8));
  expect(good(trial).establishment).toBeCloseTo(0.94, 2); // 320 counts of SD 5 %
});

test("the messy demo files give these messages, word for word", async () => {
  for (const name of ["messy-semicolon", "messy-cells"]) {
    const text = readTrial(demo(`${name}.csv`))
      .issues.map((issue) => `${issue.severity} ${issue.code}\n  ${issue.message}`)
      .join("\n");
    await expect(`${text}\n`).toMatchFileSnapshot(`../snapshot/${name}.txt`);
  }
});

test("make-demo writes the committed demo files byte for byte", async () => {
  const { files } = await import(new URL("../../data-demo/make-demo.mjs", import.meta.url).href);
  for (const [name, make] of Object.entries(files as Record<string, () => string>))
    expect(make(), name).toBe(demo(name));
});

test("the truth table of the demo README is that of the generator", async () => {
  const { truth } = await import(new URL("../../data-demo/make-demo.mjs", import.meta.url).href);
  const readme = demo("README.md");
  for (const [hybrid, { mean, logit, optimum }] of Object.entries(
    truth as Record<string, { mean(x: number): number; logit(x: number): number; optimum: number | null }>,
  )) {
    const line = readme.split("\n").find((text) => text.startsWith(`| ${hybrid} |`)) ?? "";
    const [low, high] = [mean(24), mean(36)];
    expect(line).toContain(
      `| ${low.toFixed(2)}, ${high.toFixed(2)} | ${(100 * (1 - Math.log(high / low) / Math.log(1.5))).toFixed(2)} |`,
    );
    const slope = logit(1) - logit(0);
    expect(line).toContain(`| ${((Math.log(0.1 / 0.9) - logit(0)) / slope).toFixed(1)}`);
    // The stated optimum is the best of a fine grid over 10 to 60 thousand (plateaus: the first best).
    const grid = Array.from({ length: 501 }, (_, i) => 10 + i / 10);
    const best = grid.reduce((a, b) => (mean(b) > mean(a) + 1e-9 ? b : a));
    expect(optimum === null ? mean(20) === mean(40) : Math.abs(best - optimum) < 1e-9, hybrid).toBe(true);
  }
});
