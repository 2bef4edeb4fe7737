import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { countRounds } from "../../src/analyze/countRounds.ts";
import type { CurveAnalysis, TrialAnalysis } from "../../src/analyze/result.ts";
import type { LodgingReport, StandabilityReport } from "../../src/analyze/standability.ts";
import type { Interval } from "../../src/core/interval.ts";
import { analyzeTrial, convertDensity, type Plot, readTrial, type Trial } from "../../src/index.ts";
import { assertDigits } from "../assertDigits.ts";
import { analysed, lodgingTable } from "../report/oddTrials.ts";

const demo = (name: string): string => readFileSync(new URL(`../../data-demo/${name}`, import.meta.url), "utf8");
const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 };
const { truth, standingTruth } = await import(new URL("../../data-demo/make-demo.mjs", import.meta.url).href);

function read(source: string): Trial {
  const { trial } = readTrial(source);
  if (trial === null) throw new Error("the demo trial must be readable");
  return trial;
}

function reportOf(one: { readonly standability: StandabilityReport | null } | undefined): StandabilityReport {
  if (one?.standability == null) throw new Error("no report");
  return one.standability;
}

function pooled(analysis: TrialAnalysis, hybrid: string): StandabilityReport {
  return reportOf(analysis.hybrids.find((one) => one.hybrid === hybrid)?.pooled);
}

const first = (report: StandabilityReport, kind = report.standing.basis): LodgingReport => {
  const found = report.lodging.find((one) => one.last && one.kind === kind);
  if (found === undefined) throw new Error(`nothing of kind ${kind}`);
  return found;
};

/** Density at which the share averaged over plots reaches 10 %: the integral over the normal plot effect by the midpoint rule. */
function averageLimit(logit: (x: number) => number, sd: number): number {
  const share = (x: number): number => {
    let sum = 0;
    let weight = 0;
    for (let z = -6; z < 6; z += 0.01) {
      const density = Math.exp(-0.5 * (z + 0.005) ** 2);
      sum += density / (1 + Math.exp(-(logit(x) + sd * (z + 0.005))));
      weight += density;
    }
    return sum / weight;
  };
  let [low, high] = [0, 100];
  for (let i = 0; i < 50; i++) {
    const middle = (low + high) / 2;
    if (share(middle) < 0.1) low = middle;
    else high = middle;
  }
  return low;
}

const holds = (interval: Interval | null, x: number): boolean =>
  interval !== null &&
  (interval.pieces ?? [interval]).some(
    ({ lower, upper }) => (lower === null || lower <= x) && (upper === null || upper >= x),
  );

const trial = read(demo("plots.csv"));
const analysis = analyzeTrial(trial, { prices, resamples: 199 });

describe("the demo trial, whose truth is known (data-demo/README.md)", () => {
  const hybrids = Object.entries(truth as Record<string, { logit(x: number): number }>);
  // The generator draws plot effects of SD 0.4 on the logit scale; the limit is that of the average share.
  const limits = new Map(hybrids.map(([hybrid, { logit }]) => [hybrid, averageLimit(logit, 0.4)]));

  test.each(hybrids.map(([hybrid]) => hybrid))(
    "the interval of the standability limit of %s holds the truth",
    (hybrid) => {
      expect(holds(first(pooled(analysis, hybrid)).limit.interval, limits.get(hybrid) as number)).toBe(true);
    },
  );

  test("so do at least 16 of the 18 intervals of single environments", () => {
    const held = analysis.hybrids.flatMap(({ hybrid, environments }) =>
      environments.filter((one) => holds(first(reportOf(one)).limit.interval, limits.get(hybrid) as number)),
    );
    expect(held.length).toBeGreaterThanOrEqual(16);
  });

  test("the truth table says so: five hybrids beyond the range, or one in it that does not stand", () => {
    const lines = demo("README.md").split("\n");
    for (const [hybrid, limit] of limits) {
      const line = lines.find((text) => text.startsWith(`| ${hybrid} |`)) ?? "";
      expect(line.includes("beyond the range"), hybrid).toBe(limit > 42);
    }
  });

  test("Fern 18 lodges from a tested density on, Amber 12 stands at all of them, Elm 30 has no lodging at low ones", () => {
    const { flags } = first(pooled(analysis, "Fern 18")).flags;
    expect(flags.map(({ state }) => state).filter((state, i, all) => state !== all[i - 1])[0]).toBe("stands");
    expect(flags[flags.length - 1].state).toBe("lodges");
    expect(first(pooled(analysis, "Amber 12")).flags.flags.every(({ state }) => state === "stands")).toBe(true);
    const elm = first(pooled(analysis, "Elm 30")).flags.flags;
    expect(elm.slice(0, 6).reduce((sum, { lodged }) => sum + lodged, 0)).toBe(0);
    expect(elm[elm.length - 1].state).toBe("lodges");
  });

  test("stalks thin with the fourth root of the stand: five of six intervals of the crowding slope hold -0.25, or all", () => {
    const traits = analysis.hybrids.map(({ pooled: one }) => reportOf(one).traits[0]);
    expect(traits.every(({ decline }) => decline.kind === "throughout")).toBe(true);
    const held = traits.filter(({ crowding }) => holds(crowding?.interval ?? null, -0.25));
    expect(held.length).toBeGreaterThanOrEqual(5);
  });

  test("counts are those of the file", () => {
    for (const { hybrid } of analysis.hybrids) {
      const own = trial.plots.filter((plot) => plot.hybrid === hybrid);
      const { lodged, examined, plots } = first(pooled(analysis, hybrid));
      expect([plots, examined]).toEqual([own.length, 60 * own.length]);
      expect(lodged).toBe(own.reduce((sum, plot) => sum + plot.lodging[0].lodged, 0));
    }
  });

  test("hybrids respond differently to density, since Elm 30 and Fern 18 were made to", () => {
    expect(analysis.comparison.lodging?.interaction?.pValue).toBeLessThan(0.001);
  });
});

describe("what decides", () => {
  test("standability where the limit lies below the yield optimum, yield where it lies above", () => {
    const elm = pooled(analysis, "Elm 30").standing;
    expect(elm).toMatchObject({ binds: "standability", target: "economic", limitKind: "interior" });
    expect(elm.density).toBe(elm.limit);
    expect(elm.limit as number).toBeLessThan(elm.yieldOptimum as number);
    const amber = pooled(analysis, "Amber 12").standing;
    expect(amber).toMatchObject({ binds: "yield", limitKind: "above-range", density: amber.yieldOptimum });
  });

  test("without prices the density of highest yield is set against the limit", () => {
    const plain = analysed(lodgingTable((x) => 1 / (1 + Math.exp(2.2 - 0.3 * (x - 27)))));
    const { standing } = reportOf(plain.hybrids[0].pooled);
    const curve = plain.hybrids[0].pooled as CurveAnalysis;
    expect(standing).toMatchObject({ target: "agronomic", yieldOptimum: curve.agronomic.optimum.density });
    // The lodged share at the optimum is that of the fitted curve: above the tolerated one where standability decides.
    expect((standing.shareAtOptimum as number) > 0.1).toBe(standing.binds === "standability");
  });

  test("more lodging than tolerated everywhere: no tested density will do", () => {
    const { standing } = reportOf(
      analysed(
        lodgingTable((x) => 0.2 + 0.01 * x),
        { prices },
      ).hybrids[0].pooled,
    );
    expect(standing).toMatchObject({ binds: "standability", limitKind: "below-range", density: null });
  });

  test("the whole trial's limit moves down as less is tolerated", () => {
    const source = lodgingTable((x) => 1 / (1 + Math.exp(2.2 - 0.25 * (x - 30))));
    const limits = [0.05, 0.1, 0.2].map(
      (toleratedLodging) =>
        first(reportOf(analysed(source, { toleratedLodging, resamples: 0 }).hybrids[0].pooled)).limit.density as number,
    );
    expect([...limits].sort((a, b) => a - b)).toEqual(limits);
  });
});

describe("yield that can be harvested", () => {
  const curve = analysis.hybrids.find(({ hybrid }) => hybrid === "Fern 18")?.pooled as CurveAnalysis;
  const { harvest } = reportOf(curve);
  if (harvest.kind === "not-estimable") throw new Error(harvest.reason);

  test("has the optima of the yield curve when nothing is lost", () => {
    const [none] = harvest.optimum.sensitivity;
    expect(none.lossShare).toBe(0);
    // The search narrows to 1e-9 of the tested range and the top is flat: a square root of the rounding error is left.
    assertDigits(none.agronomic, curve.agronomic.optimum.density as number, 6);
    assertDigits(none.economic, curve.economic?.optimum.density as number, 6);
  });

  test("is best at ever thinner stands as more is lost, and at the stated loss as the table says", () => {
    const densities = harvest.optimum.sensitivity.map(({ agronomic }) => agronomic as number);
    expect([...densities].sort((a, b) => b - a)).toEqual(densities);
    expect(harvest.optimum.sensitivity.find(({ lossShare }) => lossShare === 0.5)?.agronomic).toBe(
      harvest.optimum.harvestable.agronomic.density,
    );
  });

  test("holds the truth of Fern 18 in its interval: the best of gross x (1 - half the lodged share)", () => {
    const { mean, logit } = truth["Fern 18"];
    const grid = Array.from({ length: 2501 }, (_, i) => 16.7 + i / 100);
    const brought = (x: number): number => mean(x) * (1 - 0.5 / (1 + Math.exp(-logit(x))));
    const best = grid.reduce((a, b) => (brought(b) > brought(a) ? b : a));
    expect(holds(harvest.optimum.bootstrap?.harvestable.agronomic.interval ?? null, best)).toBe(true);
  });

  test("gets joint intervals over all environments only, and none without resampling", () => {
    expect(harvest.optimum.bootstrap?.resamples).toBe(199);
    const single = analysis.hybrids[0].environments[0].standability?.harvest;
    expect(single?.kind === "estimated" && single.optimum.bootstrap).toBeNull();
    const quick = reportOf(analyzeTrial(trial, { resamples: 0, byEnvironment: false }).hybrids[5].pooled);
    expect(quick.harvest.kind === "estimated" && quick.harvest.optimum.bootstrap).toBeNull();
    expect(first(quick).limit.interval?.method).toBe("profile");
  });
});

describe("two rounds of counting, several kinds, stalk tests, ratings (standing.csv)", () => {
  const source = read(demo("standing.csv"));
  const rounds = analyzeTrial(source, { prices, resamples: 199 });
  const hazel = pooled(rounds, "Hazel 3");
  const own = standingTruth["Hazel 3"];

  test("each kind and round has its limit; the last round and all kinds together come first", () => {
    expect(hazel.lodging.map(({ kind, time }) => `${kind} ${time.date}`)).toEqual([
      ...["all", "stalk", "root", "push"].map((kind) => `${kind} 2033-10-03`),
      ...["all", "stalk", "root"].map((kind) => `${kind} 2033-09-12`),
    ]);
    expect(hazel.lodging[0].time.daysAfterMaturity).toEqual([25, 25]);
  });

  test("limits of stalk lodging and of the push test hold the truth in both rounds", () => {
    // Plot effects of SD 0.3 on the logit scale.
    for (const { kind, time, limit } of hazel.lodging) {
      const round = time.date === "2033-09-12" ? 0 : 1;
      if (kind === "stalk")
        expect(holds(limit.interval, averageLimit(own.stalk[round], 0.3)), `${kind} ${round}`).toBe(true);
      if (kind === "push") expect(holds(limit.interval, averageLimit(own.push, 0.3))).toBe(true);
      // Root lodging stays at 0.15 % exp(0.06 x), far below 10 %, in both.
      if (kind === "root") expect(limit.kind).toBe("above-range");
    }
  });

  test("the truth table of the demo README says where 10 % lodge or fail", () => {
    const row = (start: string): string =>
      demo("README.md")
        .split("\n")
        .find((line) => line.startsWith(start)) ?? "";
    const both = (of: (one: typeof own) => (x: number) => number): string =>
      ["Gorse 9", "Hazel 3"].map((hybrid) => averageLimit(of(standingTruth[hybrid]), 0.3).toFixed(1)).join(" | ");
    expect(row("| 10 % of stalks lodge")).toContain(`| ${both((one) => one.stalk[1])} |`);
    expect(row("| 10 % fail at")).toContain(`| ${both((one) => one.push)} |`);
  });

  test("all kinds are the sum of stalk and root lodging, without the push test", () => {
    const [all, stalk, root] = hazel.lodging;
    expect(all.lodged).toBe((stalk.lodged as number) + (root.lodged as number));
    expect(all.examined).toBe(stalk.examined);
  });

  test("rind strength begins to fall at the density where it was made to", () => {
    const rind = hazel.traits.find(({ measure }) => measure === "rind-strength");
    expect(rind?.decline.kind).toBe("break");
    expect(holds(rind?.decline.interval ?? null, 28)).toBe(true);
    // That of Gorse 9 follows one straight line.
    expect(pooled(rounds, "Gorse 9").traits[0].decline.kind).not.toBe("break");
  });

  test("ears sit higher as plants crowd", () => {
    expect(hazel.traits.find(({ measure }) => measure === "ear-height")?.decline.kind).toBe("rises");
  });

  test("the ratings' slope of 0.25 on the logit scale lies within two standard errors", () => {
    const [{ fit, scale, worst }] = hazel.ratings;
    expect([scale, worst, fit.status, fit.worse]).toEqual([[1, 9], 9, "converged", "higher"]);
    expect(Math.abs((fit.slope as number) - 0.25)).toBeLessThan(2 * (fit.slopeError as number));
  });

  test("waiting with the harvest lowers the density at which most is brought in", () => {
    expect(hazel.scenarios.map(({ date }) => date)).toEqual(["2033-09-12", "2033-10-03"]);
    const [early, late] = hazel.scenarios.map(({ optimum }) => optimum.harvestable.agronomic.density as number);
    expect(late).toBeLessThan(early);
  });
});

describe("rounds of counting", () => {
  const plot = (environment: string, lodging: readonly [string, string, number][]): Plot =>
    ({
      environment,
      lodging: lodging.map(([kind, date, lodged]) => ({ kind, date, lodged, examined: 50 })),
    }) as unknown as Plot;

  test("a round may take several days", () => {
    const rounds = countRounds([plot("A", [["stalk", "10-05", 1]]), plot("A", [["stalk", "10-06", 2]])]);
    expect(rounds).toHaveLength(1);
    expect(rounds[0].time.date).toBe("10-05 to 10-06");
    expect(rounds[0].plots).toHaveLength(2);
  });

  test("environments are matched from their last round backwards", () => {
    const rounds = countRounds([
      plot("A", [
        ["stalk", "09-20", 1],
        ["stalk", "10-10", 4],
      ]),
      plot("B", [["stalk", "10-01", 3]]),
    ]);
    expect(rounds.map(({ plots }) => plots.map(({ lodging }) => lodging[0].lodged))).toEqual([[4, 3], [1]]);
    expect(rounds[1].missed).toBe(1);
  });

  test("a kind nobody looked at in a round keeps its last count; a plot not visited again is left out and counted", () => {
    const rounds = countRounds([
      plot("A", [
        ["stalk", "09-20", 1],
        ["root", "09-20", 2],
        ["stalk", "10-10", 4],
      ]),
      plot("A", [
        ["stalk", "09-20", 0],
        ["root", "09-20", 1],
      ]),
    ]);
    expect(rounds[0].plots[0].lodging.map(({ kind, lodged }) => `${kind} ${lodged}`).sort()).toEqual([
      "root 2",
      "stalk 4",
    ]);
    expect([rounds[0].plots.length, rounds[0].missed]).toEqual([1, 1]);
  });
});

describe("the report on standability", () => {
  test("does not change when the other hybrids are taken away", () => {
    const only: Trial = {
      ...trial,
      hybrids: ["Fern 18"],
      plots: trial.plots.filter((plot) => plot.hybrid === "Fern 18"),
    };
    const alone = analyzeTrial(only, {
      prices,
      resamples: 199,
      between: analysis.comparison.between as [number, number],
    });
    expect(JSON.stringify(pooled(alone, "Fern 18"))).toBe(JSON.stringify(pooled(analysis, "Fern 18")));
  });

  test("says the same in plants per square metre", () => {
    const quick = { resamples: 99, byEnvironment: false } as const;
    const metric = analyzeTrial(
      readTrial(demo("plots.csv"), { densityUnit: "plants/m2", yieldUnit: "t/ha" }).trial as Trial,
      quick,
    );
    const imperial = analyzeTrial(trial, quick);
    for (const hybrid of ["Fern 18", "Elm 30"]) {
      const [a, b] = [imperial, metric].map((one) => first(pooled(one, hybrid)).limit);
      assertDigits(b.density, convertDensity(a.density as number, trial.densityUnit, "plants/m2"), 8);
      assertDigits(b.interval?.lower, convertDensity(a.interval?.lower as number, trial.densityUnit, "plants/m2"), 6);
    }
  });

  test("does not depend on the order of rows, but for the drawing of resamples", () => {
    const [header, ...rows] = demo("standing.csv").trim().split("\n");
    const quick = { resamples: 0 } as const;
    const a = analyzeTrial(read(demo("standing.csv")), quick);
    const b = analyzeTrial(read([header, ...rows.reverse()].join("\n")), quick);
    for (const hybrid of ["Gorse 9", "Hazel 3"]) {
      pooled(a, hybrid).lodging.forEach(({ limit, lodged }, i) => {
        const other = pooled(b, hybrid).lodging[i];
        expect(other.lodged).toBe(lodged);
        if (limit.density !== null) assertDigits(other.limit.density, limit.density, 9);
      });
    }
  });

  test("puts the limit on both axes by the establishment of its plots", () => {
    const { axes, limit } = first(pooled(analysis, "Fern 18"));
    const { establishment } = analysis.hybrids[5].pooled as CurveAnalysis;
    assertDigits(axes.stand, limit.density as number, 12);
    assertDigits(axes.seedingRate, (limit.density as number) / (establishment as number), 12);
  });

  test("is null when nothing about standing plants was recorded, or when it is not wanted", () => {
    expect(analyzeTrial(read(demo("strips.csv")), { resamples: 0 }).hybrids[0].pooled.standability).toBeNull();
    const off = analyzeTrial(trial, { resamples: 0, standability: false });
    expect(off.hybrids.every(({ pooled: one }) => one.standability === null)).toBe(true);
    expect(off.comparison.lodging).toBeNull();
  });

  test("is there without any yield, for then only the curve is missing", () => {
    const [header, ...rows] = demo("standing.csv").trim().split("\n");
    const at = header.split(",").indexOf("yield_bu_ac");
    const without = [header, ...rows].map((row) =>
      row
        .split(",")
        .filter((_, c) => c !== at)
        .join(","),
    );
    const [{ pooled: one }] = analyzeTrial(read(without.join("\n")), { resamples: 99 }).hybrids;
    expect(one.kind).toBe("not-estimable");
    expect(first(reportOf(one)).limit.kind).toBe("above-range");
    expect(reportOf(one).harvest).toEqual({
      kind: "not-estimable",
      reason: "the yield response could not be analysed",
    });
  });

  test("nothing lodged: one-sided bounds, and none of 1,200 plants is below 0.25 % at 95 %", () => {
    const { limit, flags } = first(
      reportOf(
        analysed(
          lodgingTable(() => 0),
          { prices },
        ).hybrids[0].pooled,
      ),
    );
    // 1 - 0.05^(1/1200), Hanley & Lippman-Hand (1983).
    assertDigits(limit.noneLodged?.upper, -Math.expm1(Math.log(0.05) / 1200), 12);
    expect(flags.flags.every(({ state, interval }) => state === "stands" && interval.lower === 0)).toBe(true);
  });

  test("a share tolerated or lost outside its bounds is refused with the rule", () => {
    expect(() => analyzeTrial(trial, { toleratedLodging: 10 })).toThrow("10 % is 0.1");
    expect(() => analyzeTrial(trial, { toleratedLodging: 0 })).toThrow("toleratedLodging");
    expect(() => analyzeTrial(trial, { lossShare: 50 })).toThrow("half is 0.5");
  });
});
