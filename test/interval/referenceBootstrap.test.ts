import { existsSync, readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import type { InnerFamily } from "../../src/curves/family.ts";
import {
  baseCurve,
  bootstrapJob,
  distribution,
  estimateOf,
  jackknife,
  readDraws,
} from "../../src/interval/bootstrapJob.ts";
import { givenDraws } from "../../src/interval/givenDraws.ts";
import { type IntervalData, prepareIntervalData } from "../../src/interval/intervalData.ts";
import type { QuantileRule } from "../../src/interval/limits.ts";
import { type Scalar, slopeScalar, valueScalar, vertexScalar } from "../../src/interval/scalar.ts";
import { assertDigits } from "../assertDigits.ts";

/** R 4.2.2 with its package boot 1.3-28.1; see test/oracle/bootstrap/README.md. */
interface Analysis {
  readonly id: string;
  readonly B: number;
  readonly t0: number;
  readonly t: readonly number[];
  readonly indices_1_based?: readonly (readonly number[])[];
  readonly block_indices_1_based?: readonly (readonly number[])[];
  readonly jackknife_influence?: readonly number[];
  readonly intervals95: Intervals;
  readonly intervals90?: Intervals;
  readonly boot_package_check?: Record<"basic" | "percentile" | "bca", [number, number]> | null;
}
type Ends = { readonly lower: number; readonly upper: number };
type ByRule = Record<"norm_inter" | "type6" | "type7", Ends>;
interface Intervals {
  readonly level: number;
  readonly percentile: ByRule;
  readonly basic: ByRule;
  readonly bca: ByRule & { readonly z0: number; readonly acceleration: number };
}

const shared = process.env["STANDCURVE_SHARED"] ?? new URL("../../../shared", import.meta.url).pathname;
const own = new URL("../oracle/bootstrap", import.meta.url).pathname;
const read = (path: string): { analyses: Analysis[] } => JSON.parse(readFileSync(path, "utf8"));
const columns = (path: string): string[][] =>
  readFileSync(path, "utf8")
    .trim()
    .split(/\r?\n/)
    .map((line) => line.split(","));

/** Without block effects, as the reference statistics are; blocks serve as clusters. */
function plots(path: string, density: string, yields: string): IntervalData {
  const [header, ...rows] = columns(path);
  const column = (name: string): string[] => rows.map((row) => row[header.indexOf(name)]);
  const cluster = header.includes("block") ? { cluster: column("block") } : {};
  return { density: column(density).map(Number), yield: column(yields).map(Number), ...cluster };
}

const rules: readonly (readonly [keyof ByRule, QuantileRule])[] = [
  ["norm_inter", "normal"],
  ["type6", 6],
  ["type7", 7],
];

function compare(analysis: Analysis, data: IntervalData, family: InnerFamily, scalar: Scalar, digits: number): void {
  const prepared = prepareIntervalData(data);
  const plain = { ...prepared, cluster: null };
  const scheme = analysis.id.endsWith("residuals") ? "residual" : analysis.block_indices_1_based ? "cluster" : "case";
  const indices = (analysis.indices_1_based ?? analysis.block_indices_1_based ?? []).map((row) =>
    row.map((i) => i - 1),
  );
  expect(indices.length).toBe(analysis.B);
  const draws = givenDraws(prepared, [family], scheme, indices);
  const options = {
    families: [family],
    resamples: analysis.B,
    scheme: scheme === "cluster" ? "wild" : "residual",
  } as const;
  const jobData = scheme === "cluster" ? prepared : plain;

  assertDigits(readDraws(baseCurve(bootstrapJob(plain, options)), scalar)[0], analysis.t0, digits, "estimate");
  readDraws(draws, scalar).forEach((value, i) => {
    assertDigits(value, analysis.t[i], digits, `replicate ${i}`);
  });
  for (const intervals of [analysis.intervals95, analysis.intervals90]) {
    if (intervals === undefined) continue;
    for (const kind of ["percentile", "basic", "bca"] as const) {
      for (const [name, quantile] of rules) {
        const job = bootstrapJob(plain, {
          ...options,
          scheme: "residual",
          level: intervals.level,
          limits: kind,
          quantile,
        });
        // Whole blocks: the jackknife leaves blocks out, so the units are those of the clusters.
        const units =
          scheme === "cluster" ? { ...job, data: jobData, plan: { ...job.plan, unit: prepared.cluster } } : job;
        const { interval } = distribution(units, draws, scalar);
        assertDigits(interval.lower, intervals[kind][name].lower, digits, `${kind} ${name} lower`);
        assertDigits(interval.upper, intervals[kind][name].upper, digits, `${kind} ${name} upper`);
      }
    }
  }
  if (analysis.jackknife_influence) {
    const job = bootstrapJob(plain, options);
    const scale = Math.max(...analysis.jackknife_influence.map(Math.abs));
    jackknife(job, scalar).forEach((value, i) => {
      // Against the largest influence: small ones are differences of nearly equal estimates.
      expect(Math.abs(value - (analysis.jackknife_influence?.[i] ?? 0)) / scale).toBeLessThan(10 ** -digits);
    });
  }
  expect(estimateOf(bootstrapJob(plain, options), scalar)).toBeCloseTo(analysis.t0, 6);
}

function cases(
  folder: string,
  reference: string,
  ids: readonly string[],
  density: string,
  yields: string,
  csv: string,
): void {
  const data = plots(`${folder}/${csv}`, density, yields);
  const { design } = prepareIntervalData(data);
  for (const analysis of read(reference).analyses.filter(({ id }) => ids.includes(id))) {
    test(`${analysis.id}: replicates, percentile, basic and BCa limits are those of R with the same indices`, () => {
      if (analysis.id.endsWith("mean")) compare(analysis, data, "flat", valueScalar(design, design.levels[0]), 12);
      else if (analysis.id.endsWith("slope"))
        compare(analysis, data, "linear", slopeScalar(design, design.levels[0]), 12);
      else compare(analysis, data, "quadratic", vertexScalar(design), 9);
    });
  }
}

describe("an invented trial", () => {
  const ids = ["sim_mean", "sim_vertex_cases", "sim_vertex_residuals", "sim_vertex_blocks"];
  cases(own, `${own}/sim14.json`, ids, "density", "yield", "sim14_bootstrap.csv");
});

const reference = `${shared}/data/reference/bootstrap_share.json`;
describe.skipIf(!existsSync(reference))("a rice trial (Gomez & Gomez 1984, p. 26), read beside the repository", () => {
  if (!existsSync(reference)) return;
  const ids = ["rice_mean", "rice_slope", "rice_vertex_wild"];
  cases(`${shared}/data/csv`, reference, ids, "seed_rate_kg_ha", "yield_kg_ha", "rice_seedrate_rcbd_gomez.csv");
});
