import type { RandomTerm } from "../../src/mixed/randomTerm.ts";
import { num, one, text } from "./referenceColumns.ts";
import { contrasts, hasShared, oracleJson, type Row, sharedJson, times } from "./sharedData.ts";

/** Answers of R for one mixed model: lme4 polished, and average-information REML carried to about 12 digits. */
export interface RemlReference {
  readonly id: string;
  readonly csv: string;
  readonly n: number;
  readonly reml: {
    readonly loglik: number;
    readonly singular: boolean;
    readonly fixed: { name: string; est: number; se: number }[];
    readonly variance_components: {
      group: string;
      term1: string | null;
      term2: string | null;
      variance_or_covariance: number;
    }[];
  };
  readonly variance_components_ai_reml: {
    readonly components?: { group: string; value: number }[];
    readonly fixed?: { est: number; se: number }[];
  };
}
export interface RemlSpec {
  readonly y: string;
  readonly keep?: (row: Row) => boolean;
  readonly x: (rows: Row[]) => number[][];
  readonly random: (rows: Row[]) => RandomTerm[];
}

const quadratic = (x: number[]): number[][] => [x, times(x, x)];
const group = (rows: Row[], ...names: string[]): RandomTerm => ({ name: names.join(":"), group: text(rows, ...names) });
const byBlock = (y: string, column: string, divide: number): RemlSpec => ({
  y,
  x: (r) => [one(r), ...quadratic(num(r, column, divide))],
  random: (r) => [group(r, "block")],
});
const factorial = (rows: Row[], a: string, b: string): number[][] => {
  const ca = contrasts(text(rows, a));
  const cb = contrasts(text(rows, b));
  return [one(rows), ...ca, ...cb, ...cb.flatMap((q) => ca.map((p) => times(p, q)))];
};

/** How each set is turned into a fit: response, rows kept, fixed columns and random terms, as the R formula says. */
export const remlSpecs: Record<string, RemlSpec> = {
  rice_seedrate_quadratic: byBlock("yield_kg_ha", "seed_rate_kg_ha", 100),
  barley_monoculture_zero_block_variance: {
    ...byBlock("barley_dry_g", "barley_seeds", 100),
    keep: (row) => row["mustard_seeds"] === "0" && Number(row["barley_seeds"]) > 0,
  },
  turnip_log_density: {
    y: "log_yield",
    x: (r) => [one(r), ...quadratic(num(r, "seed_rate_lb_ac").map(Math.log))],
    random: (r) => [group(r, "block")],
  },
  oats_quadratic: {
    y: "yield_qlb",
    x: (r) => [one(r), ...contrasts(text(r, "variety")), ...quadratic(num(r, "nitrogen_cwt_ac"))],
    random: (r) => [group(r, "block"), group(r, "block", "variety")],
  },
  oats_factor: {
    y: "yield_qlb",
    x: (r) => factorial(r, "variety", "nitrogen_cwt_ac"),
    random: (r) => [group(r, "block"), group(r, "block", "variety")],
  },
  stroup: {
    y: "response",
    x: (r) => factorial(r, "whole_plot_trt", "sub_plot_trt"),
    random: (r) => [group(r, "rep"), group(r, "rep", "whole_plot_trt")],
  },
  rice_splitsplit: {
    y: "yield_t_ha",
    x: (r) => [
      one(r),
      ...quadratic(num(r, "nitrogen_kg_ha", 100)),
      ...contrasts(text(r, "management")),
      ...contrasts(text(r, "variety")),
    ],
    random: (r) => [
      group(r, "rep"),
      { ...group(r, "rep", "nitrogen_kg_ha"), name: "rep:nf" },
      { ...group(r, "rep", "nitrogen_kg_ha", "management"), name: "rep:nf:management" },
    ],
  },
  soybean_splitstrip_missing: {
    y: "yield_bu_ac",
    x: (r) => {
      const cultivar = contrasts(text(r, "cultivar"));
      const q = quadratic(num(r, "plants_k_per_acre", 100));
      return [
        one(r),
        ...cultivar,
        ...q,
        ...contrasts(text(r, "row_spacing_in")),
        ...q.flatMap((x) => cultivar.map((c) => times(c, x))),
      ];
    },
    random: (r) => [
      group(r, "block"),
      group(r, "block", "cultivar"),
      { ...group(r, "block", "cultivar", "row_spacing_in"), name: "block:cultivar:sp" },
      { ...group(r, "block", "cultivar", "plants_k_per_acre"), name: "block:cultivar:pf" },
    ],
  },
  lupin_1991_sites_random: {
    y: "yield_t_ha",
    x: (r) => [one(r), ...quadratic(num(r, "plants_per_m2", 10))],
    random: (r) => [group(r, "site"), group(r, "site", "rep")],
  },
  lupin_1991_crossed_variety: {
    y: "yield_t_ha",
    x: (r) => [one(r), ...quadratic(num(r, "plants_per_m2", 10))],
    random: (r) => [group(r, "site"), group(r, "site", "rep"), group(r, "variety"), group(r, "site", "variety")],
  },
  lupin_1991_random_slope: {
    y: "yield_t_ha",
    x: (r) => [one(r), ...quadratic(num(r, "plants_per_m2", 10).map((x) => x - 3.5))],
    random: (r) => [
      { ...group(r, "site"), columns: [one(r), num(r, "plants_per_m2", 10).map((x) => x - 3.5)] },
      group(r, "site", "rep"),
    ],
  },
  potato_missing_plots: {
    y: "infection",
    x: (r) => [one(r), ...contrasts(text(r, "treatment"))],
    random: (r) => [group(r, "block")],
  },
  barley_met_theobald: {
    y: "yield_t_ha",
    x: (r) => [one(r), ...contrasts(text(r, "variety")), ...quadratic(num(r, "nitrogen_kg_ha", 100))],
    random: (r) => [
      { ...group(r, "year", "location"), name: "env" },
      { ...group(r, "year", "location", "variety"), name: "env:variety" },
    ],
  },
  maize_strips_lasrosas: {
    y: "yield_q_ha",
    x: (r) => [one(r), ...contrasts(text(r, "topography")), ...quadratic(num(r, "nitrogen_kg_ha", 100))],
    random: (r) => [
      { ...group(r, "year"), name: "yr" },
      { ...group(r, "year", "rep"), name: "yr:rep" },
    ],
  },
  rice_wetdry: {
    y: "yield_t_ha",
    x: (r) => {
      const season = contrasts(text(r, "season"))[0];
      const q = quadratic(num(r, "nitrogen_kg_ha", 100));
      return [one(r), season, ...q, ...q.map((x) => times(x, season))];
    },
    random: (r) => [{ ...group(r, "season", "rep"), name: "sr" }],
  },
  sim01: byBlock("yield", "density", 10),
  sim02_flat: byBlock("yield", "density", 10),
  sim05_outlier: byBlock("yield", "density", 10),
};

/** The models whose data stand in test/oracle, and the others when the shared folder is beside the repository. */
export function remlReferences(): RemlReference[] {
  const own = oracleJson<{ models: RemlReference[] }>("remlReference.json").models;
  const all = hasShared ? sharedJson<{ models: RemlReference[] }>("reference/mixed_share.json").models : [];
  return [...own, ...all.filter(({ id }) => !own.some((model) => model.id === id))];
}
