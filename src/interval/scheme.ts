import type { Shape } from "../core/checkShape.ts";
import { pow } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import type { Multipliers } from "./errorSampler.ts";
import { type Grouping, grouping, type PreparedIntervalData } from "./intervalData.ts";

/**
 * What is resampled. `residual` (default): leverage-adjusted residuals. `wild`: residuals times random signs, for unequal
 * scatter and for strips. `case`: plots within density, or within density and block where that is replicated. `parametric`:
 * normal errors. `cluster`: whole environments.
 */
export type Scheme = "residual" | "wild" | "case" | "parametric" | "cluster";

export interface SchemeOptions {
  /** Default `residual`; `wild` when plots share a strip (`cluster` in the data). */
  readonly scheme?: Scheme;
  /** Of the wild scheme; default `rademacher`, `webb` with fewer than 12 units. */
  readonly multipliers?: Multipliers;
}

/** What `SchemeOptions` must look like. */
export const schemeOptionsShape: { readonly [property: string]: Shape } = { scheme: "text?", multipliers: "any?" };

/** A scheme that suits the design, with what is drawn and what to be wary of. */
export interface ResamplingPlan {
  readonly scheme: Scheme;
  readonly multipliers: Multipliers | null;
  /** Plots that are drawn together; null: each plot alone. */
  readonly unit: Grouping | null;
  /** Units are exchanged within strata only (case scheme): stratum of each unit. */
  readonly strata: Grouping | null;
  /** What is drawn, in words. */
  readonly drawn: string;
  readonly warnings: readonly string[];
}

/** Fewest environments that can be resampled: with fewer, whole-cluster resampling is far too short. */
const ENVIRONMENTS = 8;
/** Plots a stratum below which resampling them is called too short. */
const PLOTS = 8;
/** Fewest strips for random signs: 2^6 sign patterns. */
const STRIPS = 6;

/**
 * Settles the scheme for a design.
 *
 * @throws AnalysisError `not-offered` when the scheme would mislead on this design; the message says why
 * @throws AnalysisError `invalid-option` for an unknown scheme or multiplier
 */
export function planResampling(data: PreparedIntervalData, base: CurveFit, options: SchemeOptions): ResamplingPlan {
  const { cluster } = data;
  const scheme = options.scheme ?? (cluster ? "wild" : "residual");
  check(
    ["residual", "wild", "case", "parametric", "cluster"].includes(scheme),
    "invalid-option",
    `unknown scheme "${scheme}"; choose residual, wild, case, parametric or cluster`,
  );
  const { multipliers } = options;
  check(
    multipliers === undefined || multipliers === "rademacher" || multipliers === "webb",
    "invalid-option",
    `unknown multipliers "${multipliers}"; choose rademacher or webb`,
  );
  const plain = { scheme, multipliers: null, unit: null, strata: null };
  if (scheme === "residual" || scheme === "parametric") {
    check(
      cluster === null,
      "not-offered",
      `the ${scheme} scheme takes plots for independent, but plots here share a strip; use wild, or case`,
    );
    checkScatter(base);
    const drawn = scheme === "residual" ? "residuals, from all plots" : "normal errors";
    return { ...plain, drawn, warnings: warnScatter(base) };
  }
  if (scheme === "wild") {
    checkScatter(base);
    const units = cluster?.labels.length ?? data.x.length;
    check(
      cluster === null || units >= STRIPS,
      "not-offered",
      `${units} strips allow only ${pow(2, units)} patterns of signs; at least ${STRIPS} are needed`,
    );
    return {
      ...plain,
      multipliers: multipliers ?? (units < 12 ? "webb" : "rademacher"),
      unit: cluster,
      drawn: cluster ? `signs of ${units} strips` : "signs of the plots' own residuals",
      warnings: warnScatter(base),
    };
  }
  return scheme === "cluster" ? environments(data) : cases(data);
}

function checkScatter(base: CurveFit): void {
  check(
    base.dofResidual > 0,
    "not-estimable",
    "there are no residual degrees of freedom, so residuals say nothing about scatter",
  );
}

function warnScatter({ dofResidual }: CurveFit): string[] {
  return dofResidual < 4
    ? [`only ${dofResidual} residual degrees of freedom: the scatter itself is hardly known, limits are rough`]
    : [];
}

function environments(data: PreparedIntervalData): ResamplingPlan {
  const unit = data.environment;
  check(
    unit !== null,
    "not-offered",
    "the cluster scheme resamples whole environments; give the environment of each plot",
  );
  const count = unit.labels.length;
  check(
    count >= ENVIRONMENTS,
    "not-offered",
    `${count} environments are too few to resample whole: at least ${ENVIRONMENTS} are needed, with fewer the limits are ` +
      "far too short; use the residual or wild scheme with blocks, which speaks of these environments only",
  );
  const warnings =
    count < 20
      ? [`${count} environments: limits from resampling whole environments are still somewhat short below about 20`]
      : [];
  return {
    scheme: "cluster",
    multipliers: null,
    unit,
    strata: null,
    drawn: `whole environments, ${count} with replacement`,
    warnings,
  };
}

function cases(data: PreparedIntervalData): ResamplingPlan {
  const { design, cluster, environment } = data;
  const unit =
    cluster ??
    grouping(
      Array.from(data.x, (_, i) => i),
      "plot",
      data.x.length,
    );
  check(unit !== null, "invalid-data", "there are no plots");
  const plots = members(unit);
  const oneDensity = plots.every((own) => own.every((i) => design.level[i] === design.level[own[0]]));
  const oneBlock = plots.every((own) => own.every((i) => design.block[i] === design.block[own[0]]));
  if (!oneDensity) {
    check(
      unit.labels.length >= ENVIRONMENTS,
      "not-offered",
      `${unit.labels.length} strips that each carry several densities are too few to resample whole; at least ${ENVIRONMENTS} are needed`,
    );
    const strata =
      environment &&
      grouping(
        plots.map((own) => environment.labels[environment.of[own[0]]]),
        "strip",
        plots.length,
      );
    return {
      scheme: "case",
      multipliers: null,
      unit,
      strata,
      drawn: environment ? "whole strips within environment" : "whole strips",
      warnings: [`${unit.labels.length} whole strips are resampled: with few of them the limits are short`],
    };
  }
  const cell = (own: readonly number[]): string => `${design.level[own[0]]} ${design.block[own[0]]}`;
  const byCell = grouping(plots.map(cell), "unit", plots.length) as Grouping;
  const byDensity = grouping(
    plots.map((own) => design.level[own[0]]),
    "unit",
    plots.length,
  ) as Grouping;
  const replicated = oneBlock && Math.min(...sizes(byCell)) >= 2;
  const strata = replicated ? byCell : byDensity;
  const count = sizes(strata);
  const least = Math.min(...count);
  check(
    Math.max(...count) > 1,
    "not-offered",
    "no density is replicated, so there is nothing to exchange within a density",
  );
  const what = cluster ? "strips" : "plots";
  const where = replicated ? "density and block" : "density";
  const warnings =
    least < PLOTS
      ? [
          `${least} ${what} per ${where}: exchanging so few makes limits too short (95 % limits cover about ` +
            `${least <= 4 ? "86 to 88" : "90 to 92"} %); prefer the residual scheme`,
        ]
      : [];
  return { scheme: "case", multipliers: null, unit, strata, drawn: `${what} within ${where}`, warnings };
}

/** Members of each group. */
export function members({ of, labels }: Grouping): number[][] {
  const lists: number[][] = labels.map(() => []);
  of.forEach((group, i) => {
    lists[group].push(i);
  });
  return lists;
}

function sizes(groups: Grouping): number[] {
  return members(groups).map((own) => own.length);
}
