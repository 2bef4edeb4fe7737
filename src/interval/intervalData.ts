import type { Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { type CurveData, curveDataShape, type PreparedData, prepareData } from "../fit/fitData.ts";

/** Plots of one curve with what their layout says about which of them belong together. */
export interface IntervalData extends CurveData {
  /** Environment (site x year) of each plot; shape [n]. Blocks of different environments are different blocks. */
  readonly environment?: ArrayLike<string | number>;
  /** Strip, or any other unit whose plots share one deviation and are resampled together; shape [n]. Default: each plot alone. */
  readonly cluster?: ArrayLike<string | number>;
}

/** What `IntervalData` must look like. */
export const intervalDataShape: { readonly [property: string]: Shape } = {
  ...curveDataShape,
  environment: "labels?",
  cluster: "labels?",
};

/** Groups of plots: the number of each plot's group and the groups' labels in order of first appearance. */
export interface Grouping {
  readonly of: Int32Array;
  readonly labels: readonly string[];
}

export interface PreparedIntervalData extends PreparedData {
  readonly environment: Grouping | null;
  /** Null also when every cluster is a single plot. */
  readonly cluster: Grouping | null;
}

/**
 * Checks the plots and numbers blocks, environments and clusters.
 *
 * @throws AnalysisError `length-mismatch` or `invalid-data` as `fitCurve`
 */
export function prepareIntervalData(data: IntervalData): PreparedIntervalData {
  const environment = grouping(data.environment, "environment", data.density.length);
  const cluster = grouping(data.cluster, "cluster", data.density.length);
  const block = environment ? nested(data.block, environment) : data.block;
  return {
    ...prepareData(block === undefined ? data : { ...data, block }),
    environment,
    cluster: cluster && cluster.labels.length < cluster.of.length ? cluster : null,
  };
}

/** Numbers labels by first appearance. */
export function grouping(labels: ArrayLike<string | number> | undefined, name: string, nobs: number): Grouping | null {
  if (labels === undefined) return null;
  check(labels.length === nobs, "length-mismatch", `density has ${nobs} values but ${name} has ${labels.length}`);
  const seen = new Map<string, number>();
  const of = Int32Array.from({ length: nobs }, (_, i) => {
    const label = String(labels[i]);
    if (!seen.has(label)) seen.set(label, seen.size);
    return seen.get(label) as number;
  });
  return { of, labels: [...seen.keys()] };
}

/** Block labels made distinct between environments, but left as they are when they are distinct already. */
function nested(block: CurveData["block"], environment: Grouping): ArrayLike<string | number> {
  const label = (i: number): string => environment.labels[environment.of[i]];
  if (block === undefined) return Array.from(environment.of, (_, i) => label(i));
  const home = new Map<string, number>();
  let shared = false;
  for (let i = 0; i < environment.of.length; i++) {
    const own = String(block[i]);
    const known = home.get(own);
    if (known === undefined) home.set(own, environment.of[i]);
    else if (known !== environment.of[i]) shared = true;
  }
  return shared ? Array.from(environment.of, (_, i) => `${label(i)} / ${block[i]}`) : block;
}
