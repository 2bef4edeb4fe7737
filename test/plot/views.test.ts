import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import type { EarComponents } from "../../src/derive/earComponents.ts";
import type { YieldGoalAnswer } from "../../src/mixed/responseAtYieldGoal.ts";
import { type EarComponentsView, type YieldGoalView, type ZonePlanView, zoneMapChart } from "../../src/plot/index.ts";
import type { ZonePlan } from "../../src/recommend/zonePlan.ts";

// Compile-time: the results of the other parts are what their charts take.
const ears = (result: EarComponents): EarComponentsView => result;
const goal = (result: YieldGoalAnswer): YieldGoalView => result;
const plan = (result: ZonePlan): ZonePlanView => result;

test("results of ear components, yield goals and zone plans are what their charts take", () => {
  expect([ears, goal, plan].map((fits) => fits.length)).toEqual([1, 1, 1]);
});

test("the zones of the demo field are drawn with outer rings clockwise, the reverse of RFC 7946, and labels inside", () => {
  const shapes = JSON.parse(readFileSync(new URL("../../data-demo/zones.geojson", import.meta.url), "utf8"));
  const zones = shapes.features.map(({ properties }: { properties: { zone: string } }, i: number) => ({
    id: properties.zone,
    rate: 28 + i,
    area: 10,
  }));
  const chart = zoneMapChart({ rateUnit: "1000 plants/ac", areaUnit: "ac", zones }, shapes);
  const [drawn, names] = (chart.spec as unknown as { layer: { data: { values: unknown[] } }[] }).layer;
  const rings = drawn.data.values.map(
    (one) => (one as { geometry: { coordinates: number[][][][] } }).geometry.coordinates[0][0],
  );
  for (const ring of rings) {
    const area = ring.reduce((sum, [x, y], i) => {
      const [nextX, nextY] = ring[(i + 1) % ring.length];
      return sum + x * nextY - nextX * y;
    }, 0);
    expect(area).toBeLessThan(0);
  }
  names.data.values.forEach((label, i) => {
    const { lon, lat } = label as { lon: number; lat: number };
    const xs = rings[i].map(([x]) => x);
    const ys = rings[i].map(([, y]) => y);
    expect(lon > Math.min(...xs) && lon < Math.max(...xs) && lat > Math.min(...ys) && lat < Math.max(...ys)).toBe(true);
  });
  expect(() => zoneMapChart({ rateUnit: "plants/ac", areaUnit: "ac", zones: zones.slice(1) }, shapes)).toThrow("zones");
  expect(() =>
    zoneMapChart(
      { rateUnit: "plants/ac", areaUnit: "ac", zones: [zones[0]] },
      { features: [{ geometry: { type: "Point" } }] },
    ),
  ).toThrow("no polygon");
});
