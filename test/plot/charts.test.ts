import { readFileSync } from "node:fs";
import { join } from "node:path";
import AjvModule from "ajv";
import { beforeAll, describe, expect, test } from "vitest";
import type { ChartOptions } from "../../src/plot/chart.ts";
import { chartTheme, ringOpacity, seriesDashes, seriesShapes } from "../../src/plot/chartTheme.ts";
import * as plot from "../../src/plot/index.ts";
import { spreadLabels } from "../../src/plot/spreadLabels.ts";
import { inkOn, tint } from "../../src/plot/tint.ts";
import { allCharts, type Demo, demo, smallDemo } from "./demoCharts.ts";
import { optionalPackage } from "./optionalPackage.ts";
import { planCharts } from "./planCharts.ts";

let small: Demo;
let strips: Demo;
let charts: Readonly<Record<string, plot.Chart>>;
beforeAll(() => {
  small = smallDemo();
  strips = demo("strips.csv");
  charts = {
    ...allCharts(small, { currency: "$" }),
    ...planCharts(small, { currency: "$" }),
    fieldMap: plot.fieldMapChart(strips.analysis, { trial: strips.trial }),
  };
}, 60_000);

/** Between them every size and both modes. */
const looks: readonly ChartOptions[] = [{ size: "slide", mode: "dark", currency: "EUR" }, { size: "small" }];

const folder = optionalPackage("vega-lite");

describe.skipIf(folder === null)("against the JSON Schema that Vega-Lite publishes", () => {
  test("every chart in every size and mode is a valid specification", () => {
    const schema = JSON.parse(readFileSync(join(folder as string, "build/vega-lite-schema.json"), "utf8"));
    const Ajv = AjvModule.default ?? AjvModule;
    const ajv = new Ajv({ strict: false, allErrors: false, validateFormats: false });
    const validate = ajv.compile(schema);
    const wrong: string[] = [];
    let seen = 0;
    for (const look of [null, ...looks]) {
      const made =
        look === null
          ? charts
          : {
              ...allCharts(small, look),
              ...planCharts(small, look),
              fieldMap: plot.fieldMapChart(strips.analysis, { ...look, trial: strips.trial }),
            };
      for (const [name, { spec }] of Object.entries(made)) {
        seen += 1;
        if (!validate(spec)) wrong.push(`${name} ${JSON.stringify(look)}: ${JSON.stringify(validate.errors?.[0])}`);
      }
    }
    expect(wrong).toEqual([]);
    expect(seen).toBe(63);
    // The schema can fail: a mark that does not exist is refused.
    expect(validate({ ...charts["zoneMap"].spec, layer: [{ mark: "sprinkle" }] })).toBe(false);
  });
});

describe("charts", () => {
  test("are plain JSON that survives a round trip: no NaN, no Infinity, no undefined", () => {
    for (const [name, { spec }] of Object.entries(charts)) {
      const text = JSON.stringify(spec);
      expect(JSON.parse(text), name).toEqual(spec);
      expect(text, name).not.toMatch(/:null,"y"|NaN|Infinity/);
    }
  });

  test("are the same as before (a diff here is a changed picture: look at it)", async () => {
    for (const [name, { spec, alt }] of Object.entries(charts)) {
      await expect(`${JSON.stringify({ alt, spec }, null, 1)}\n`).toMatchFileSnapshot(
        `../snapshot/charts/${name}.json`,
      );
    }
  });

  test("say in words what they show, with the unit", () => {
    const units = /thousand (?:plants|seeds)\/ac|bu\/ac|flex score|mm|Resamples|resamples/;
    for (const [name, { alt, spec }] of Object.entries(charts)) {
      expect(alt.length, name).toBeGreaterThan(60);
      expect(alt, name).toMatch(units);
      expect(alt, name).not.toMatch(/undefined|NaN|null|\u200b/);
      expect(spec.description).toBe(alt);
    }
  });

  test("name the unit on every axis that has a title", () => {
    for (const [name, { spec }] of Object.entries(charts)) {
      const titles = [...JSON.stringify(spec).matchAll(/"axis":\{[^{}]*"title":"([^"]*)"/g)].map(([, title]) => title);
      const bare = titles.filter(
        (title) =>
          !/,|%|[Ff]lex score|Blocks?|Place|Row|Column|bounded, %|Normal score|Standardised|Lodged|Share|per ac/.test(
            title,
          ),
      );
      expect(bare, name).toEqual([]);
    }
  });

  test("never let a bar begin anywhere but at zero", () => {
    for (const { spec } of Object.values(charts)) {
      for (const bar of JSON.stringify(spec).matchAll(/"mark":\{"type":"bar"[^}]*\},"encoding":(\{.*?\}\})/g)) {
        expect(bar[1]).toContain('"x2":{"field":"zero"}');
      }
    }
  });

  test("give the response the answers of the result: optima, ranges and the limit as they stand there", () => {
    const { analysis, trial } = small;
    const fern = analysis.hybrids.find(({ hybrid }) => hybrid === "Fern 18")?.pooled;
    if (fern?.kind !== "analysed" || fern.economic === null) throw new Error("Fern 18 must be analysed");
    const text = JSON.stringify(plot.responseChart(analysis, { hybrid: "Fern 18", trial }).spec);
    const seven = (value: number | null | undefined): string => String(Number((value as number).toPrecision(7)));
    expect(text).toContain(`"x":${seven(fern.economic.optimum.density)}`);
    expect(text).toContain(`"x":${seven(fern.agronomic.optimum.density)}`);
    for (const end of [fern.economic.interval.lower, fern.economic.interval.upper])
      if (end !== null) expect(text).toContain(seven(end));
    const plots = trial.plots.filter(({ hybrid }) => hybrid === "Fern 18").length;
    expect(text.match(/"filled":false/g)?.length).toBe(1);
    expect(plots).toBe(24);
  });

  test("refuse names that are not in the result, and say why a hybrid has no chart", () => {
    const { analysis } = small;
    expect(() => plot.responseChart(analysis, { hybrid: "Nobody" })).toThrow('no hybrid "Nobody"');
    expect(() => plot.responseChart(analysis)).toThrow("hybrid must be one of");
    expect(() => plot.responseChart(analysis, { hybrid: "Fern 18", size: "poster" as "page" })).toThrow("size must be");
    const one = demo("strips.csv", (text) =>
      text
        .split("\n")
        .filter((line, i) => i === 0 || /,24000,/.test(line))
        .join("\n"),
    );
    expect(() => plot.responseChart(one.analysis, { hybrid: "Amber 12" })).toThrow("only one density");
    expect(() => plot.optimaChart(one.analysis)).toThrow("no hybrid was analysed");
  });

  test("draw a trial whose densities are single plants per hectare in thousands", () => {
    const { trial } = demo("messy-semicolon.csv");
    const unit = plot.lodgingChart(small.analysis.hybrids[0].pooled.standability?.lodging[0] as never, {
      densityUnit: "plants/ha",
      densityAxis: "seeding-rate",
    });
    expect(trial.densityUnit).toContain("plants/ha");
    expect(JSON.stringify(unit.spec)).toContain("Seeding rate, thousand seeds/ha");
  });
});

describe("colours and signs", () => {
  const luminance = (color: string): number => {
    const [r, g, b] = [1, 3, 5].map((at) => {
      const share = Number.parseInt(color.slice(at, at + 2), 16) / 255;
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const contrast = (a: string, b: string): number => {
    const [low, high] = [luminance(a), luminance(b)].sort((x, y) => x - y);
    return (high + 0.05) / (low + 0.05);
  };

  test("text stands out 4.5 to 1 and what carries meaning alone 3 to 1 against the paper (WCAG 2.2, 1.4.3 and 1.4.11)", () => {
    for (const mode of ["light", "dark"] as const) {
      const { paper, ink, muted, agronomic, economic, lodging, good } = chartTheme({ mode });
      expect(contrast(ink, paper)).toBeGreaterThan(7);
      expect(contrast(muted, paper)).toBeGreaterThan(4.5);
      for (const color of [agronomic, economic, lodging, good])
        expect(contrast(color, paper), color).toBeGreaterThan(3);
      const strong = [1, 3, 5].map((at) => Number.parseInt(muted.slice(at, at + 2), 16)) as [number, number, number];
      expect(contrast(tint(strong, ringOpacity, paper), paper)).toBeGreaterThan(3);
    }
  });

  test("no two series share a dash or a symbol, so that a copy in black and white can be read", () => {
    const { series } = chartTheme({});
    for (const list of [seriesDashes.map((dash) => dash.join()), seriesShapes, series]) {
      expect(new Set(list).size).toBe(list.length);
      expect(list.length).toBe(7);
    }
  });

  test("ink on a tint is the one that stands out more", () => {
    expect(inkOn("#ffffff")).toBe("#000000");
    expect(inkOn("#005a9c")).toBe("#ffffff");
    for (let i = 0; i < 4096; i += 37) {
      const color = `#${i.toString(16).padStart(3, "0").replace(/./g, "$&$&")}`;
      expect(contrast(inkOn(color), color)).toBeGreaterThan(4.5);
    }
  });
});

describe("spreadLabels", () => {
  test("leaves labels that stand apart where they are", () => {
    expect(spreadLabels([1, 5, 9], 1, [0, 10])).toEqual([1, 5, 9]);
  });
  test("moves labels apart by the gap, in their order, around their mean, inside the range", () => {
    expect(spreadLabels([5, 5, 5], 1, [0, 10])).toEqual([4, 5, 6]);
    expect(spreadLabels([9.9, 10], 1, [0, 10])).toEqual([9, 10]);
    let state = 3;
    for (let trial = 0; trial < 200; trial++) {
      const places = Array.from({ length: 8 }, () => {
        state = (state * 48271) % 2147483647;
        return (10 * state) / 2147483647;
      });
      const moved = spreadLabels(places, 1, [0, 10]);
      const order = places.map((_, i) => i).sort((a, b) => places[a] - places[b]);
      for (let k = 1; k < 8; k++) expect(moved[order[k]] - moved[order[k - 1]]).toBeGreaterThan(1 - 1e-9);
      expect(Math.min(...moved)).toBeGreaterThan(-1e-9);
      expect(Math.max(...moved)).toBeLessThan(10 + 1e-9);
    }
  });
});
