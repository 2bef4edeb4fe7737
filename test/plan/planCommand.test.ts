import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { planCommand } from "../../src/node/planCommand.ts";
import { planCommands, planOptions } from "../../src/node/planOptions.ts";

let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "standcurve-plan-"));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function run(...argv: string[]): Promise<{ code: number; out: string; err: string }> {
  let [out, err] = ["", ""];
  const code = await planCommand(argv, {
    stdout: { write: (text) => (out += text) },
    stderr: { write: (text) => (err += text) },
  });
  return { code, out, err };
}

const demo = (name: string): string => new URL(`../../data-demo/${name}.csv`, import.meta.url).pathname;
const layout = ["layout", "--hybrids", "Amber 12, Birch 7", "--rates", "20,26,32,38,44"];
const belief = ["--optimum", "28,36", "--loss", "6,12", "--loss-distance", "10", "--best-yield", "200"];

describe("standcurve plan", () => {
  test("layout shows the map, and its CSV can be checked", async () => {
    const { code, out } = await run(...layout);
    expect(code).toBe(0);
    expect(out).toMatch(/^Layout\n/);
    expect(out).toContain("A = Amber 12");
    const csv = (await run(...layout, "--csv")).out;
    expect(csv).toMatch(/^plot,block,field_row,field_column,order,hybrid,seeding_rate_1000_seeds_ac,/);
    writeFileSync(join(folder, "plan.csv"), csv);
    const checked = await run("check", join(folder, "plan.csv"));
    expect([checked.code, checked.err]).toEqual([0, ""]);
    expect(checked.out).toMatch(/40 plots, 4 blocks, 10 treatments/);
  });

  test("layout writes all forms into a folder, GeoJSON with a guidance line", async () => {
    const target = join(folder, "forms");
    const { code, out } = await run(
      ...layout,
      "--plot-length",
      "30ft",
      "--plot-width",
      "10ft",
      "--line=-88.2,40.1,-88.2,40.11",
      "--out",
      target,
    );
    expect([code, out]).toEqual([0, ""]);
    expect(readdirSync(target).sort()).toEqual(["layout.csv", "layout.geojson", "layout.json", "layout.txt"]);
    const plan = join(target, "layout.json");
    expect(JSON.parse(readFileSync(plan, "utf8")).schema).toBe("standcurve/layout-plan/1");
    expect(JSON.parse(readFileSync(join(target, "layout.geojson"), "utf8")).type).toBe("FeatureCollection");
    expect((await run("check", plan, "--json")).code).toBe(0);
  });

  test("check ends with 1 when a plan has faults", async () => {
    const rows = [1, 2, 3].flatMap((b) => [20, 26, 32, 38, 44].map((rate, i) => `A,${b},${10 * b + i},${rate},190`));
    writeFileSync(join(folder, "fault.csv"), `hybrid,block,order,seeding_rate_k_ac,yield_bu_ac\n${rows.join("\n")}\n`);
    const { code, out } = await run("check", join(folder, "fault.csv"));
    expect(code).toBe(1);
    expect(out).toMatch(/same order of treatments/);
  });

  test("densities and power print the answer, JSON and CSV", async () => {
    const choose = [
      "densities",
      ...belief,
      "--steps",
      "16,46,6",
      "--count",
      "4",
      "--sigma",
      "5",
      "--simulations",
      "200",
    ];
    expect((await run(...choose)).out).toMatch(/^Densities for the trial\n/);
    expect(JSON.parse((await run(...choose, "--json")).out).schema).toBe("standcurve/density-choice/1");
    const power = [
      "power",
      ...belief,
      "--densities",
      "24,28,32,36",
      "--densities",
      "18,23,28,33,38,43",
      "--blocks",
      "4,8",
      "--cv",
      "3",
      "--simulations",
      "50",
    ];
    const { code, out } = await run(...power);
    expect(code).toBe(0);
    expect(out).toMatch(/24 28 32 36/);
    expect((await run(...power, "--csv")).out.trimEnd().split("\r\n")).toHaveLength(5);
  });

  test("next takes a trial, or the JSON of its analysis", async () => {
    const { code, out } = await run("next", demo("strips"), "--hybrid", "Amber 12", "--simulations", "20", "--json");
    expect(code).toBe(0);
    expect(JSON.parse(out)).toMatchObject({ schema: "standcurve/what-next/1", hybrid: "Amber 12", basis: "plots" });
  });

  test("all that is wrong is said at once, with 2", async () => {
    const { code, out, err } = await run("power", "--densities", "20,x", "--sgima", "5");
    expect([code, out]).toEqual([2, ""]);
    expect(err).toContain("unknown option --sgima; did you mean --sigma?");
    expect((await run("power", "--densities", "20,x")).err).toMatch(/--optimum is missing[\s\S]*--loss is missing/);
    expect((await run("layuot")).err).toContain("did you mean plan layout?");
    expect((await run("layout", "--json", "--csv", "--hybrids", "A", "--rates", "1,2")).err).toMatch(
      /exclude each other/,
    );
    expect((await run(...layout, "--design", "rows")).code).toBe(2);
    expect((await run("next", join(folder, "nowhere.csv"))).code).toBe(1);
    expect((await run("check", "a", "b")).code).toBe(2);
  });

  test("every option is named once, so that the parser and the help agree", () => {
    expect(new Set(planOptions.map(({ name }) => name)).size).toBe(planOptions.length);
  });

  test("help names every command and every option of each", async () => {
    const all = (await run("--help")).out;
    for (const command of planCommands) {
      expect(all).toContain(`standcurve plan ${command}`);
      const { code, out } = await run(command, "--help");
      expect(code).toBe(0);
      for (const { name, commands } of planOptions) if (commands.includes(command)) expect(out).toContain(`--${name}`);
    }
  });
});
