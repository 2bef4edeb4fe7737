import { describe, expect, test } from "vitest";
import { checkLayout } from "../../src/plan/checkLayout.ts";
import { layoutCsv } from "../../src/plan/layoutCsv.ts";
import { layoutGeoJson, type PlanFeature } from "../../src/plan/layoutGeoJson.ts";
import { layoutTrial } from "../../src/plan/layoutTrial.ts";
import { type LonLat, localPlane } from "../../src/plan/localPlane.ts";
import { layoutRows } from "../../src/plan/planRows.ts";
import { readTrial } from "../../src/trial/readTrial.ts";
import { assertDigits } from "../assertDigits.ts";

/** The file with every empty cell of a column filled in. */
function fill(csv: string, values: Readonly<Record<string, (row: number) => string | number>>): string {
  const [head, ...lines] = csv.trimEnd().split("\n");
  const names = head.split(",");
  const filled = lines.map((line, i) =>
    line
      .split(",")
      .map((cell, c) => (cell === "" && names[c] in values ? String(values[names[c]](i)) : cell))
      .join(","),
  );
  return `${[head, ...filled].join("\n")}\n`;
}

describe("the field book comes back from harvest", () => {
  test.each(["plants/ac", "1000 plants/ac", "plants/ha", "1000 plants/ha", "plants/m2", "plants/ft2"] as const)(
    "rates, blocks, hybrids and positions are read again: %s",
    (densityUnit) => {
      const scale = {
        "plants/ac": 1000,
        "1000 plants/ac": 1,
        "plants/ha": 2500,
        "1000 plants/ha": 2.5,
        "plants/m2": 0.25,
        "plants/ft2": 0.023,
      }[densityUnit];
      const rates = [20, 26, 32, 38].map((rate) => Number((rate * scale).toPrecision(6)));
      const plan = layoutTrial({
        hybrids: ["Amber 12", "Birch, late"],
        rates,
        densityUnit,
        blocks: 3,
        environments: ["North", "South"],
        borders: { sides: 1 },
      });
      const perAcre = densityUnit.endsWith("/ac") || densityUnit.endsWith("/ft2");
      const text = layoutCsv(plan);
      // A quoted comma is in a hybrid's name: fill by hand-made regular cells only at the end of the line.
      const lines = text
        .trimEnd()
        .split("\n")
        .map((line, i) =>
          i === 0 ? line : line.replace(/,,,,,,,$/, `,,${perAcre ? 190 + (i % 7) : 11 + (i % 7) / 10},15.5,,,,`),
        );
      const { trial, issues } = readTrial(lines.join("\n"));
      expect(issues.filter(({ severity }) => severity === "error")).toEqual([]);
      expect(trial?.densityUnit).toBe(densityUnit);
      const plots = plan.plots.filter(({ kind }) => kind === "plot");
      expect(trial?.plots).toHaveLength(plots.length);
      const read = trial?.plots.map((plot) => [
        plot.environment,
        plot.plot,
        plot.block,
        plot.hybrid,
        plot.seedingRate,
        plot.position.row,
        plot.position.column,
        plot.position.order,
        plot.excluded,
      ]);
      expect(read).toEqual(
        plots.map((plot) => [
          plot.environment,
          plot.plot,
          String(plot.block),
          plot.hybrid,
          plot.seedingRate,
          plot.row,
          plot.column,
          plot.order,
          null,
        ]),
      );
    },
  );

  test("harvested weights become yields with the strip sizes of the plan", () => {
    const plan = layoutTrial({
      hybrids: ["Amber 12"],
      rates: [20, 30, 40],
      densityUnit: "1000 plants/ac",
      blocks: 2,
      plotLength: { value: 300, unit: "ft" },
      plotWidth: { value: 20, unit: "ft" },
    });
    const csv = fill(layoutCsv(plan, { harvest: "weight" }), {
      harvest_weight_lb: () => 1540,
      moisture_pct: () => 15.5,
    });
    const { trial, issues } = readTrial(csv);
    expect(issues.filter(({ severity }) => severity === "error")).toEqual([]);
    // By hand: 300 x 20 = 6,000 sq ft; 1,540 lb / 56 = 27.5 bu; 27.5 x 43,560 / 6,000 = 199.65 bu/ac.
    for (const plot of trial?.plots ?? []) assertDigits(plot.yield, 199.65, 9);
    expect(trial?.plots).toHaveLength(6);
  });

  test("counts of lodged plants written into the book are read as such", () => {
    const plan = layoutTrial({ hybrids: ["Amber 12"], rates: [20, 30, 40], densityUnit: "1000 plants/ac", blocks: 2 });
    const csv = fill(layoutCsv(plan), {
      yield_bu_ac: (i) => 180 + i,
      stalk_lodged: (i) => i,
      plants_examined: () => 50,
    });
    const { trial } = readTrial(csv);
    expect(trial?.plots.map(({ lodging }) => lodging.find(({ kind }) => kind === "stalk"))).toMatchObject(
      [0, 1, 2, 3, 4, 5].map((lodged) => ({ lodged, examined: 50 })),
    );
  });

  test("borders are listed only when asked for, and then stay out of the analysis", () => {
    const plan = layoutTrial({
      hybrids: ["A"],
      rates: [20, 30, 40],
      densityUnit: "1000 plants/ac",
      blocks: 2,
      borders: { sides: 1 },
    });
    expect(layoutCsv(plan).trimEnd().split("\n")).toHaveLength(7);
    const { trial } = readTrial(fill(layoutCsv(plan, { borders: true }), { yield_bu_ac: () => 190 }));
    expect(trial?.plots.filter(({ excluded }) => excluded === null)).toHaveLength(6);
    expect(layoutRows(plan)).toHaveLength(10);
  });
});

/**
 * Length of the geodesic between two points and its azimuth at the first, by the inverse formula of Vincenty (1975), Survey Review
 * 23(176), 88-93: another route than the tangent plane.
 */
function geodesic([lon1, lat1]: LonLat, [lon2, lat2]: LonLat): { metres: number; azimuth: number } {
  const a = 6378137;
  const f = 1 / 298.257223563;
  const b = a * (1 - f);
  const rad = Math.PI / 180;
  const L = (lon2 - lon1) * rad;
  const U1 = Math.atan((1 - f) * Math.tan(lat1 * rad));
  const U2 = Math.atan((1 - f) * Math.tan(lat2 * rad));
  let lambda = L;
  for (let i = 0; ; i++) {
    const y = Math.hypot(
      Math.cos(U2) * Math.sin(lambda),
      Math.cos(U1) * Math.sin(U2) - Math.sin(U1) * Math.cos(U2) * Math.cos(lambda),
    );
    const x = Math.sin(U1) * Math.sin(U2) + Math.cos(U1) * Math.cos(U2) * Math.cos(lambda);
    const sigma = Math.atan2(y, x);
    const sinAlpha = (Math.cos(U1) * Math.cos(U2) * Math.sin(lambda)) / y;
    const cos2 = 1 - sinAlpha ** 2;
    const cos2m = cos2 === 0 ? 0 : x - (2 * Math.sin(U1) * Math.sin(U2)) / cos2;
    const C = (f / 16) * cos2 * (4 + f * (4 - 3 * cos2));
    const next = L + (1 - C) * f * sinAlpha * (sigma + C * y * (cos2m + C * x * (-1 + 2 * cos2m ** 2)));
    const done = Math.abs(next - lambda) < 1e-15 || i > 100;
    lambda = next;
    if (!done) continue;
    const u2 = (cos2 * (a * a - b * b)) / (b * b);
    const A = 1 + (u2 / 16384) * (4096 + u2 * (-768 + u2 * (320 - 175 * u2)));
    const B = (u2 / 1024) * (256 + u2 * (-128 + u2 * (74 - 47 * u2)));
    const delta =
      B *
      y *
      (cos2m + (B / 4) * (x * (-1 + 2 * cos2m ** 2) - (B / 6) * cos2m * (-3 + 4 * y * y) * (-3 + 4 * cos2m ** 2)));
    const azimuth = Math.atan2(
      Math.cos(U2) * Math.sin(lambda),
      Math.cos(U1) * Math.sin(U2) - Math.sin(U1) * Math.cos(U2) * Math.cos(lambda),
    );
    return { metres: b * A * (sigma - delta), azimuth: (azimuth / rad + 360) % 360 };
  }
}

describe("plots on the ground", () => {
  test("the yardstick of this test gives the published distance of Flinders Peak to Buninyong, 54,972.271 m", () => {
    // Geocentric Datum of Australia technical manual (its ellipsoid equals WGS84 to 0.1 mm); coordinates from memory.
    const dms = (d: number, m: number, s: number): number => Math.sign(d) * (Math.abs(d) + m / 60 + s / 3600);
    const flinders: LonLat = [dms(144, 25, 29.5244), dms(-37, 57, 3.7203)];
    const buninyong: LonLat = [dms(143, 55, 35.3839), dms(-37, 39, 10.1561)];
    const { metres, azimuth } = geodesic(flinders, buninyong);
    expect(metres).toBeCloseTo(54972.271, 2);
    expect(azimuth).toBeCloseTo(dms(306, 52, 5.37), 4);
  });

  test("the tangent plane keeps distances on a field to 0.1 mm in 1 km, in all quarters of the globe", () => {
    for (const origin of [
      [-88.2, 40.1],
      [11.5, 52.3],
      [36.8, -1.2],
      [-60.5, -33.9],
      [174.9, -40.4],
    ] as const) {
      const plane = localPlane(origin);
      for (const [east, north] of [
        [1000, 0],
        [0, 1000],
        [-700, 700],
        [5, -3],
      ] as const) {
        const point = plane.toLonLat(east, north);
        expect(Math.abs(geodesic(origin, point).metres - Math.hypot(east, north))).toBeLessThan(1e-4);
        const back = plane.toPlane(point);
        expect(Math.hypot(back[0] - east, back[1] - north)).toBeLessThan(1e-4);
      }
    }
  });

  const plan = layoutTrial({
    hybrids: ["Amber 12"],
    rates: [20, 30, 40],
    densityUnit: "1000 plants/ac",
    blocks: 2,
    plotLength: { value: 30, unit: "m" },
    plotWidth: { value: 6, unit: "m" },
    alley: { value: 2, unit: "m" },
    borders: { sides: 1 },
  });
  const lines: [string, LonLat, LonLat][] = [
    ["north-east in the northern half", [-88.2, 40.1], [-88.199, 40.101]],
    ["south-west in the southern half", [148.1, -35.2], [148.09, -35.21]],
  ];
  const ring = (feature: PlanFeature): readonly LonLat[] =>
    feature.geometry.type === "Polygon" ? feature.geometry.coordinates[0] : [];
  const signedArea = (points: readonly LonLat[]): number =>
    points.slice(1).reduce((sum, [x, y], i) => sum + points[i][0] * y - x * points[i][1], 0) / 2;

  test.each(lines)("rings are closed, counter-clockwise and of the right size: line to the %s", (_, a, b) => {
    for (const side of ["right", "left"] as const) {
      const { features, type, bbox } = layoutGeoJson(plan, { a, b, side });
      expect(type).toBe("FeatureCollection");
      const plots = features.filter(({ geometry }) => geometry.type === "Polygon");
      expect(plots).toHaveLength(plan.plots.length);
      for (const feature of plots) {
        const points = ring(feature);
        expect(points).toHaveLength(5);
        expect(points[4]).toEqual(points[0]);
        expect(signedArea(points)).toBeGreaterThan(0);
        const sides = points
          .slice(1)
          .map((point, i) => geodesic(points[i], point).metres)
          .sort((p, q) => p - q);
        // Eight decimals of a degree are 1.1 mm.
        for (const [i, length] of [6, 6, 30, 30].entries()) expect(Math.abs(sides[i] - length)).toBeLessThan(0.003);
        for (const [x, y] of points) expect(x >= bbox[0] && x <= bbox[2] && y >= bbox[1] && y <= bbox[3]).toBe(true);
      }
      expect(features.some((feature) => "crs" in feature)).toBe(false);
    }
  });

  test.each(lines)("plots follow the line with alleys and lie on the asked side: line to the %s", (_, a, b) => {
    const course = geodesic(a, b).azimuth;
    for (const [side, turn] of [
      ["right", 90],
      ["left", -90],
    ] as const) {
      const { features } = layoutGeoJson(plan, { a, b, side });
      for (const feature of features.slice(1)) {
        const { row, column } = feature.properties as { row: number; column: number };
        const points = ring(feature).slice(0, 4);
        const centre: LonLat = [
          points.reduce((sum, [x]) => sum + x / 4, 0),
          points.reduce((sum, [, y]) => sum + y / 4, 0),
        ];
        const { metres, azimuth } = geodesic(a, centre);
        const angle = ((azimuth - course) * Math.PI) / 180;
        expect(metres * Math.cos(angle)).toBeCloseTo((row - 1) * 32 + 15, 1);
        expect(metres * Math.sin(angle)).toBeCloseTo(Math.sign(turn) * ((column - 1) * 6 + 3), 1);
      }
    }
  });

  test("a line through the centre of the first strip moves the plots by half a strip", () => {
    const [, a, b] = lines[0];
    const edge = layoutGeoJson(plan, { a, b });
    const centre = layoutGeoJson(plan, { a, b, lineAt: "centre" });
    expect(geodesic(ring(edge.features[1])[0], ring(centre.features[1])[0]).metres).toBeCloseTo(3, 2);
  });

  test("names what is wrong", () => {
    const [, a, b] = lines[0];
    expect(() => layoutGeoJson(plan, { a, b: a })).toThrow(/1 m to 20 km/);
    expect(() => layoutGeoJson(plan, { a: [40.1, -88.2], b })).toThrow(/latitude/);
    expect(() => layoutGeoJson(plan, { a: [179.9999, 10], b: [-179.9999, 10] })).toThrow(/180th/);
    const bare = layoutTrial({ hybrids: ["A"], rates: [1, 2, 3], densityUnit: "plants/m2", blocks: 2 });
    expect(() => layoutGeoJson(bare, { a, b })).toThrow(/plotLength/);
    expect(() => layoutCsv(bare, { harvest: "weight" })).toThrow(/plotLength/);
  });
});

describe("checkLayout", () => {
  const rates = [20, 26, 32, 38, 44];
  const row = (block: number, order: number, seedingRate: number, hybrid = "A") => ({
    block,
    order,
    seedingRate,
    hybrid,
  });
  const codes = (plots: Parameters<typeof checkLayout>[0]): string[] =>
    checkLayout(plots).findings.map(({ code }) => code);

  test("finds nothing in drawn layouts, but for the one in a hundred that it says it will", () => {
    let faulty = 0;
    for (let seed = 0; seed < 100; seed++) {
      const plan = layoutTrial({
        hybrids: ["A", "B"],
        rates,
        densityUnit: "1000 plants/ac",
        blocks: 4,
        rowsPerBlock: 2,
        seed,
      });
      if (!checkLayout(plan, { permutations: 499, seed }).sound) faulty++;
    }
    // Up to six tests at 1 in 100 each, correlated: 3 to 6 % expected; 100 layouts.
    expect(faulty).toBeLessThan(14);
  });

  test("finds rates in order and the same order in every block, with their chances", () => {
    const plots = [1, 2, 3].flatMap((block) => rates.map((rate, i) => row(block, block * 10 + i, rate)));
    const { findings, sound } = checkLayout(plots);
    expect(sound).toBe(false);
    // By hand: (2 / 5!)^2 and (2 / 5!)^3.
    assertDigits(findings.find(({ code }) => code === "same-order-in-blocks")?.chance, (2 / 120) ** 2, 12);
    assertDigits(findings.find(({ code }) => code === "rates-in-order")?.chance, (2 / 120) ** 3, 12);
    const position = findings.find(({ code }) => code === "rate-confounded-with-position");
    expect(position?.message).toMatch(/correlation 1.00/);
    // One step of order for 6 units of rate.
    expect(position?.message).toMatch(/0\.17 per unit of rate/);
  });

  test("finds rates and hybrids that cannot be told from blocks", () => {
    expect(codes(rates.flatMap((rate, i) => [row(i, 2 * i, rate), row(i, 2 * i + 1, rate, "B")]))).toContain(
      "rate-confounded-with-block",
    );
    expect(codes([row(1, 1, 20), row(1, 2, 30), row(2, 3, 30, "B"), row(2, 4, 20, "B")])).toContain(
      "hybrid-confounded-with-block",
    );
  });

  test("finds missing and repeated treatments", () => {
    const plan = layoutTrial({ hybrids: ["A"], rates, densityUnit: "1000 plants/ac", blocks: 3, seed: 3 });
    const found = codes(plan.plots.slice(1));
    expect(found).toContain("unbalanced");
    expect(found).toContain("incomplete-block");
    expect(checkLayout(plan).sound).toBe(true);
  });

  test("finds replicates side by side, and a single block", () => {
    const found = codes(
      rates.flatMap((rate, i) => [row(1, 3 * i, rate), row(1, 3 * i + 1, rate), row(1, 3 * i + 2, rate)]),
    );
    expect(found).toContain("replicates-adjacent");
    expect(found).toContain("one-block");
  });

  test("finds hybrids grown on two halves of the field", () => {
    const plots = [1, 2, 3, 4].flatMap((block) =>
      ["A", "B"].flatMap((hybrid, h) =>
        [26, 38, 20, 32].map((rate, i) => ({
          block,
          hybrid,
          seedingRate: rate,
          row: block,
          column: 4 * h + ((i + block) % 4),
        })),
      ),
    );
    expect(codes(plots)).toContain("hybrid-confounded-with-position");
  });

  test("says when it cannot look at randomisation, and reads a trial as it reads a plan", () => {
    expect(codes([1, 2].flatMap((block) => rates.map((seedingRate) => ({ block, hybrid: "A", seedingRate }))))).toEqual(
      ["no-position"],
    );
    const csv =
      "hybrid,block,order,seeding_rate_k_ac,yield_bu_ac\n" +
      [1, 2].flatMap((b) => rates.map((rate, i) => `A,${b},${10 * b + i},${rate},${180 + i}`)).join("\n");
    const { trial } = readTrial(csv);
    expect(trial).not.toBeNull();
    if (trial !== null) expect(codes(trial)).toContain("same-order-in-blocks");
    expect(() => checkLayout([])).toThrow(/seeding rate/);
  });
});
