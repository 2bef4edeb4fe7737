import { readFileSync } from "node:fs";
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { planZones } from "../../src/recommend/planZones.ts";
import { polygonArea } from "../../src/recommend/polygonArea.ts";
import { readZones } from "../../src/recommend/readZones.ts";
import { recommendRate } from "../../src/recommend/recommendRate.ts";
import type { Zone } from "../../src/recommend/zone.ts";
import { zonesCsv, zonesGeoJson } from "../../src/recommend/zoneOutput.ts";
import { assertDigits } from "../assertDigits.ts";
import { analysed, parabola, prices, sampleTrial } from "./sampleTrial.ts";

const demo = (name: string): string => readFileSync(new URL(`../../data-demo/${name}`, import.meta.url), "utf8");
const trial = sampleTrial(parabola(205, 32, 0.07), { sigma: 4, environments: ["East 2031", "West 2031"] });
const analysis = analysed(trial);
const options = {
  trial,
  draws: 200,
  field: { hybrid: "Amber 12", planterStep: 0.5, establishment: 0.95, currency: "$" },
} as const;

describe("polygon area", () => {
  test("the whole ellipsoid has 510,065,621.7 km2", () => {
    // Surface of WGS 84: NIMA TR8350.2 / standard value 510 065 621.724 km2.
    const ring = [
      [-180, -90],
      [180, -90],
      [180, 90],
      [-180, 90],
      [-180, -90],
    ];
    assertDigits(polygonArea([ring]) / 1e6, 510065621.724, 11);
  });

  test("a degree cell at 41 to 42 N has 9,260 km2, and a field's area is that of its sides", () => {
    // Meridian arc and parallel lengths of Snyder (1987), table: 111.07 km and 83.3 km at 41.5 N, product 9,254 to four digits of the
    // mid-latitude approximation.
    const cell = [
      [0, 41],
      [1, 41],
      [1, 42],
      [0, 42],
      [0, 41],
    ];
    const e2 = 0.00669437999014;
    const phi = (41.5 * Math.PI) / 180;
    const w = 1 - e2 * Math.sin(phi) ** 2;
    const meridian = ((6378137 * (1 - e2)) / w ** 1.5) * (Math.PI / 180);
    const parallel = (6378137 / Math.sqrt(w)) * Math.cos(phi) * (Math.PI / 180);
    // The product of the mid-latitude lengths misses curvature over a whole degree: 4 digits.
    assertDigits(polygonArea([cell]), meridian * parallel, 4);
    const field = cell.map(([x, y]) => [x / 500, 41.5 + (y - 41.5) / 500]);
    assertDigits(polygonArea([field]), (meridian * parallel) / 250_000, 7);
    // A hole is taken out, whichever way it turns.
    const hole = field.map(([x, y]) => [0.0005 + x / 4, 41.5 + (y - 41.5) / 4]);
    assertDigits(polygonArea([field, [...hole].reverse()]), ((meridian * parallel) / 250_000) * (15 / 16), 6);
  });
});

describe("reading", () => {
  test("CSV and GeoJSON say the same of the demo zones; polygons without an area get their own", () => {
    const table = readZones(demo("zones.csv"));
    const map = readZones(demo("zones.geojson"));
    expect(table.issues).toEqual([]);
    expect(map.issues).toEqual([]);
    const plain = ({ area: _, areaUnit: __, ...rest }: Zone) => rest;
    expect(map.zones?.map(plain)).toEqual(table.zones?.map(plain));
    map.zones?.forEach((zone, i) => {
      // Square metres to acres; the table gives one decimal.
      expect(Math.abs(zone.area / 0.40468564224 - (table.zones?.[i].area as number))).toBeLessThan(0.06);
    });
  });

  test("all problems are reported at once, with their rows", () => {
    const { zones, issues } = readZones(
      "zone,area,yield goal (bu/ac),establishment,K2O soil\nhill,20,much,0.9,\nhill,20,180,1.4,120\n",
    );
    expect(zones).toBeNull();
    expect(issues.map(({ row, code }) => `${row} ${code}`).sort()).toEqual(
      ["2 no-unit", "2 not-a-number", "3 no-unit", "3 out-of-bounds", "3 repeated-zone", "3 missing-value"].sort(),
    );
    expect(issues.find(({ code }) => code === "not-a-number")?.row).toBe(2);
    expect(issues.find(({ code }) => code === "repeated-zone")?.row).toBe(3);
  });

  test.each([
    ['{"type":"Feature"}', "not-a-feature-collection"],
    ['{"type":"FeatureCollection","features":[]}', "no-zones"],
    [
      '{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[1,2]}}]}',
      "not-a-polygon",
    ],
    [
      '{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,1]]]}}]}',
      "bad-coordinates",
    ],
    [
      '{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[[450000,4590000],[450100,4590000],[450100,4590100],[450000,4590000]]]}}]}',
      "bad-coordinates",
    ],
    [
      '{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"zone":"a"},"geometry":null}]}',
      "missing-value",
    ],
    ["{", "not-json"],
    ["", "no-zones"],
  ])("a file that breaks RFC 7946 or has no area is refused: %s", (text, code) => {
    const { zones, issues } = readZones(text);
    expect(zones).toBeNull();
    expect(issues.map((issue) => issue.code)).toContain(code);
  });
});

describe("planning", () => {
  const zones: Zone[] = [
    { id: "hill", area: 20, areaUnit: "ac" },
    { id: "flat", area: 24.281138534, areaUnit: "ha" },
  ];

  test("zones that do not differ get the uniform rate, and varying brings nothing", () => {
    const plan = planZones(analysis, zones, options);
    const alone = recommendRate(analysis, { ...options.field, prices }, options);
    expect(plan.zones.map(({ rate }) => rate)).toEqual([alone.target, alone.target]);
    expect(plan.uniform?.rate).toBe(alone.target);
    expect(plan.value?.probability).toBeNull();
    expect(plan.value?.total.mean).toBe(0);
    expect(plan.summary).toContain("varying brings nothing");
    // 24.281138534 ha = 60 acres; seeds = rate x 80 acres, 80,000 a unit.
    assertDigits(plan.total.area, 80, 9);
    assertDigits(plan.total.seeds, alone.target * 1000 * 80, 9);
    assertDigits(plan.total.units, alone.target, 9);
    assertDigits(plan.total.seedCost, alone.target * 3.75 * 80, 9);
  });

  test("a yield goal moves the level, not the rate; the cost of varying is charged", () => {
    const plan = planZones(
      analysis,
      [
        { ...zones[0], yieldGoal: 160 },
        { ...zones[1], yieldGoal: 14, yieldUnit: "t/ha" },
      ],
      { ...options, costOfVarying: 2 },
    );
    expect(plan.zones[0].rate).toBe(plan.zones[1].rate);
    assertDigits(plan.value?.total.mean, -160, 9);
    // 14 t/ha = 223.04 bu/ac at the best density.
    expect(plan.zones[1].yield.mean - plan.zones[0].yield.mean).toBeCloseTo(14 / 0.0627676647 - 160, 3);
    expect(plan.cautions.join(" ")).toContain("level of the curve");
  });

  test("zones on curves of different environments vary, and the chance that it pays is honest about the noise", () => {
    const dry = sampleTrial(parabola(150, 24, 0.09), { sigma: 4, environments: ["Dry 2031"], seed: 4 });
    const wet = sampleTrial(parabola(230, 34, 0.09), { sigma: 4, environments: ["Wet 2031"], seed: 5 });
    const both = analysed({
      ...dry,
      environments: [...dry.environments, ...wet.environments],
      plots: [...dry.plots, ...wet.plots],
    });
    const plan = planZones(
      both,
      [
        { ...zones[0], environment: "Dry 2031" },
        { ...zones[1], environment: "Wet 2031" },
      ],
      { ...options, elsewhere: "none", field: { ...options.field, hybrid: "Amber 12" } },
    );
    expect(plan.zones[0].rate).toBeLessThan(plan.zones[1].rate);
    expect(plan.value?.total.mean).toBeGreaterThan(0);
    expect(plan.value?.probability).toBeGreaterThan(0.9);
  });

  test("the uniform rate is the best one: no other planter's rate returns more over all zones", () => {
    const fed = { unit: "lb/ac", K2O: { soil: 150 } } as const;
    const plan = planZones(analysis, [{ ...zones[0], supply: fed }, zones[1]], options);
    for (const planterStep of [26, 28, 30, 32, 34]) {
      const other = planZones(analysis, [{ ...zones[0], supply: fed }, zones[1]], {
        ...options,
        field: { ...options.field, planterStep },
      });
      expect((other.uniform?.return.mean as number) <= (plan.uniform?.return.mean as number) + 1e-6).toBe(true);
    }
    expect(plan.value?.aboveCap).toEqual(plan.uniform && plan.uniform.rate > plan.zones[0].cap ? ["hill"] : []);
  });

  test("a zone's mistakes and a missing hybrid are the caller's", () => {
    expect(() => planZones(analysis, [{ id: "a", area: -1, areaUnit: "ac" }], options)).toThrow(/zone 1, area/);
    const two = { ...analysis, hybrids: [...analysis.hybrids, ...analysis.hybrids] };
    expect(() => planZones(two, zones, { trial })).toThrow(/names no hybrid/);
  });
});

describe("writing", () => {
  const map = readZones(demo("zones.geojson"));
  const plan = planZones(analysis, map.zones ?? [], options);

  test("GeoJSON keeps geometry, foreign members and properties, and is a valid collection again", () => {
    const out = zonesGeoJson(plan, map.source);
    const before = JSON.parse(demo("zones.geojson"));
    expect(JSON.stringify(out.features.map(({ geometry }) => geometry))).toBe(
      JSON.stringify(before.features.map(({ geometry }: { geometry: unknown }) => geometry)),
    );
    expect(out["name"]).toBe(before.name);
    out.features.forEach((feature, i) => {
      expect(feature.properties).toMatchObject(before.features[i].properties);
      expect(feature.properties?.["plan_rate"]).toBe(plan.zones[i].rate);
    });
    expect(readZones(JSON.stringify(out)).issues).toEqual([]);
  });

  test("whatever the polygons, RFC 7946 holds: rings closed and turning as they came, members and properties kept, input untouched", () => {
    const place = fc.tuple(
      fc.double({ min: -170, max: 170, noNaN: true }),
      fc.double({ min: -80, max: 80, noNaN: true }),
      fc.double({ min: 0.0001, max: 0.1, noNaN: true }),
    );
    // A square, its corners in either direction, with an altitude or without, and perhaps a hole that turns the other way.
    const polygon = fc
      .tuple(place, fc.boolean(), fc.boolean(), fc.boolean())
      .map(([[x, y, side], clockwise, high, hole]) => {
        const ring = (from: number, to: number, turn: boolean): number[][] => {
          const corners = [
            [from, from],
            [to, from],
            [to, to],
            [from, to],
            [from, from],
          ].map(([a, b]) => [x + a * side, y + b * side, ...(high ? [250] : [])]);
          return turn ? corners.reverse() : corners;
        };
        return [ring(0, 1, clockwise), ...(hole ? [ring(0.25, 0.75, !clockwise)] : [])];
      });
    const geometry = fc.oneof(
      polygon.map((coordinates) => ({ type: "Polygon", coordinates })),
      fc.array(polygon, { minLength: 1, maxLength: 3 }).map((coordinates) => ({ type: "MultiPolygon", coordinates })),
    );
    const feature = fc.record({
      type: fc.constant("Feature"),
      id: fc.oneof(fc.integer(), fc.string()),
      bbox: fc.constant([-1, -1, 1, 1]),
      geometry,
      properties: fc.record({
        zone: fc.uuid(),
        soil: fc.string(),
        plan_note: fc.string(),
        list: fc.constant([1, { a: null }]),
      }),
      foreign: fc.jsonValue(),
    });
    const collection = fc.record({
      type: fc.constant("FeatureCollection"),
      bbox: fc.constant([-180, -90, 180, 90]),
      features: fc.array(feature, { minLength: 1, maxLength: 3 }),
      foreign: fc.jsonValue(),
    });
    const quick = { ...options, draws: 50, resamples: 0 };
    fc.assert(
      fc.property(collection, (given) => {
        const text = JSON.stringify(given);
        const reading = readZones(text);
        expect(reading.issues).toEqual([]);
        const out = zonesGeoJson(planZones(analysis, reading.zones ?? [], quick), reading.source);
        const plain = JSON.parse(JSON.stringify(out));
        const before = JSON.parse(text);
        expect(JSON.stringify(reading.source?.kind === "geojson" && reading.source.collection)).toBe(text);
        const { features, ...members } = plain;
        const { features: old, ...oldMembers } = before;
        expect(members).toEqual(oldMembers);
        features.forEach(({ properties, ...rest }: Record<string, unknown>, i: number) => {
          const { properties: oldProperties, ...oldRest } = old[i];
          expect(rest).toEqual(oldRest);
          expect(properties).toMatchObject(oldProperties);
          const { type, coordinates } = rest["geometry"] as { type: string; coordinates: number[][][][] };
          for (const ring of (type === "Polygon" ? [coordinates] : coordinates).flat() as number[][][]) {
            expect(ring.length).toBeGreaterThanOrEqual(4);
            expect(ring[0]).toEqual(ring[ring.length - 1]);
          }
        });
        expect(readZones(JSON.stringify(out)).issues).toEqual([]);
      }),
      { numRuns: 15 },
    );
  });

  test("planning on a plan's own output keeps the first plan's columns", () => {
    const again = readZones(JSON.stringify(zonesGeoJson(plan, map.source)));
    const twice = zonesGeoJson(planZones(analysis, again.zones ?? [], options), again.source);
    expect(Object.keys(twice.features[0].properties ?? {})).toEqual(
      expect.arrayContaining(["plan_rate", "plan2_rate"]),
    );
  });

  test("CSV keeps every column, disarms formulas and leaves numbers alone", () => {
    const text = 'zone,area_ac,note,shift\n"=cmd()",20,"@SUM(A1), ""x""",-2.5\nflat,10,,+3\n';
    const reading = readZones(text);
    const csv = zonesCsv(planZones(analysis, reading.zones ?? [], options), reading.source);
    const lines = csv.split("\r\n");
    expect(lines[0].startsWith("zone,area_ac,note,shift,plan_zone,")).toBe(true);
    expect(lines[1].startsWith(`'=cmd(),20,"'@SUM(A1), ""x""",-2.5,'=cmd(),`)).toBe(true);
    expect(lines[2].startsWith("flat,10,,+3,flat,")).toBe(true);
    expect(readZones(csv).zones?.length).toBe(2);
  });
});

test("whatever the text, reading gives zones or errors and never throws", () => {
  const cell = fc.oneof(
    fc.string(),
    fc.constantFrom("zone", "area_ac", "establishment", "1,5", "-3", "=1", '"', "__proto__", "20"),
  );
  const table = fc
    .array(fc.array(cell, { minLength: 1, maxLength: 5 }), { maxLength: 5 })
    .map((rows) => rows.map((row) => row.join(",")).join("\n"));
  const feature = fc.record(
    {
      type: fc.constantFrom("Feature", "x"),
      properties: fc.oneof(fc.jsonValue(), fc.dictionary(cell, fc.jsonValue())),
      geometry: fc.oneof(
        fc.constant(null),
        fc.record({ type: fc.constantFrom("Polygon", "MultiPolygon"), coordinates: fc.jsonValue() }),
      ),
    },
    { requiredKeys: [] },
  );
  const map = fc
    .record({ type: fc.constant("FeatureCollection"), features: fc.oneof(fc.array(feature), fc.jsonValue()) })
    .map((value) => JSON.stringify(value));
  fc.assert(
    fc.property(fc.oneof(fc.string(), table, map), (text) => {
      const { zones, issues } = readZones(text);
      expect(zones === null).toBe(issues.some(({ severity }) => severity === "error"));
    }),
    { numRuns: 500 },
  );
});
