import { existsSync, readFileSync } from "node:fs";
import type { InnerFamily } from "../../src/curves/family.ts";
import { baseCurve, bootstrapJob, distribution, jackknife, readDraws } from "../../src/interval/bootstrapJob.ts";
import { givenDraws } from "../../src/interval/givenDraws.ts";
import { type IntervalData, prepareIntervalData } from "../../src/interval/intervalData.ts";
import type { QuantileRule } from "../../src/interval/limits.ts";
import { type Scalar, slopeScalar, valueScalar, vertexScalar } from "../../src/interval/scalar.ts";

/** R 4.2.2 with its package boot 1.3-28.1; see test/oracle/bootstrap/README.md. */
export interface BootstrapAnalysis {
  readonly id: string;
  readonly B: number;
  readonly t0: number;
  readonly t: readonly number[];
  readonly indices_1_based?: readonly (readonly number[])[];
  readonly block_indices_1_based?: readonly (readonly number[])[];
  readonly jackknife_influence?: readonly number[];
  readonly intervals95: Intervals;
  readonly intervals90?: Intervals;
}
type Ends = { readonly lower: number; readonly upper: number };
type ByRule = Record<"norm_inter" | "type6" | "type7", Ends>;
interface Intervals {
  readonly level: number;
  readonly percentile: ByRule;
  readonly basic: ByRule;
  readonly bca: ByRule;
}

/** A bootstrap of R that can be repeated with the same indices. */
export interface BootstrapCase {
  readonly analysis: BootstrapAnalysis;
  readonly data: IntervalData;
  readonly family: InnerFamily;
  readonly scalar: Scalar;
  /** Digits to ask for: a vertex divides two estimates. */
  readonly digits: number;
  /** Read beside the repository. */
  readonly beside: boolean;
}

const shared = process.env["STANDCURVE_SHARED"] ?? new URL("../../../shared", import.meta.url).pathname;
const own = new URL("../oracle/bootstrap", import.meta.url).pathname;

/** The invented trial stored here, and the rice trial (Gomez & Gomez 1984, p. 26) where the shared folder is beside the repository. */
export function bootstrapCases(): BootstrapCase[] {
  const reference = `${shared}/data/reference/bootstrap_share.json`;
  const rice = `${shared}/data/csv/rice_seedrate_rcbd_gomez.csv`;
  return [
    ...cases(`${own}/sim14.json`, "sim_", `${own}/sim14_bootstrap.csv`, ["density", "yield"], false),
    ...(existsSync(reference) ? cases(reference, "rice_", rice, ["seed_rate_kg_ha", "yield_kg_ha"], true) : []),
  ];
}

function cases(
  file: string,
  prefix: string,
  csv: string,
  columns: readonly [string, string],
  beside: boolean,
): BootstrapCase[] {
  const { analyses } = JSON.parse(readFileSync(file, "utf8")) as { analyses: BootstrapAnalysis[] };
  const data = plots(csv, ...columns);
  const { design } = prepareIntervalData(data);
  return analyses
    .filter(({ id }) => id.startsWith(prefix))
    .map((analysis) => {
      const common = { analysis, data, beside };
      if (analysis.id.endsWith("mean"))
        return { ...common, family: "flat", scalar: valueScalar(design, design.levels[0]), digits: 12 };
      if (analysis.id.endsWith("slope"))
        return { ...common, family: "linear", scalar: slopeScalar(design, design.levels[0]), digits: 12 };
      return { ...common, family: "quadratic", scalar: vertexScalar(design), digits: 9 };
    });
}

/** Without block effects, as the reference statistics are; blocks serve as clusters. */
function plots(path: string, density: string, yields: string): IntervalData {
  const [header, ...rows] = readFileSync(path, "utf8")
    .trim()
    .split(/\r?\n/)
    .map((line) => line.split(","));
  const column = (name: string): string[] => rows.map((row) => row[header.indexOf(name)]);
  const cluster = header.includes("block") ? { cluster: column("block") } : {};
  return { density: column(density).map(Number), yield: column(yields).map(Number), ...cluster };
}

const rules: readonly (readonly [keyof ByRule, QuantileRule])[] = [
  ["norm_inter", "normal"],
  ["type6", 6],
  ["type7", 7],
];

/** Repeats a bootstrap of R and hands over every pair of numbers: figure, ours, R's, and the detail. */
export function repeatBootstrap(
  { analysis, data, family, scalar }: BootstrapCase,
  compare: (figure: string, actual: number | null, expected: number, detail: string) => void,
): void {
  const prepared = prepareIntervalData(data);
  const plain = { ...prepared, cluster: null };
  const scheme = analysis.id.endsWith("residuals") ? "residual" : analysis.block_indices_1_based ? "cluster" : "case";
  const indices = (analysis.indices_1_based ?? analysis.block_indices_1_based ?? []).map((row) =>
    row.map((i) => i - 1),
  );
  if (indices.length !== analysis.B) throw new Error(`${analysis.id}: ${indices.length} resamples, not ${analysis.B}`);
  const draws = givenDraws(prepared, [family], scheme, indices);
  const options = {
    families: [family],
    resamples: analysis.B,
    scheme: scheme === "cluster" ? "wild" : "residual",
  } as const;
  const plainJob = bootstrapJob(plain, options);
  compare("estimate", readDraws(baseCurve(plainJob), scalar)[0], analysis.t0, "");
  readDraws(draws, scalar).forEach((value, i) => void compare("replicates", value, analysis.t[i], `${i}`));
  for (const intervals of [analysis.intervals95, analysis.intervals90]) {
    if (intervals === undefined) continue;
    for (const kind of ["percentile", "basic", "bca"] as const) {
      for (const [name, quantile] of rules) {
        const { level } = intervals;
        const job = bootstrapJob(plain, { ...options, scheme: "residual", level, limits: kind, quantile });
        // Whole blocks: the jackknife leaves blocks out, so the units are those of the clusters.
        const units =
          scheme === "cluster" ? { ...job, data: prepared, plan: { ...job.plan, unit: prepared.cluster } } : job;
        const { interval } = distribution(units, draws, scalar);
        compare(`${kind} limits`, interval.lower, intervals[kind][name].lower, `${name} lower`);
        compare(`${kind} limits`, interval.upper, intervals[kind][name].upper, `${name} upper`);
      }
    }
  }
  if (!analysis.jackknife_influence) return;
  // Against the largest influence: small ones are differences of nearly equal estimates.
  const scale = Math.max(...analysis.jackknife_influence.map(Math.abs));
  const influence = analysis.jackknife_influence;
  jackknife(plainJob, scalar).forEach((value, i) => {
    compare("jackknife influence", 1 + (value - influence[i]) / scale, 1, `${i}`);
  });
}
