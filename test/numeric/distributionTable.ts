import * as door from "../../src/numeric/distributions.ts";
import oracle from "../oracle/distributions.json" with { type: "json" };

/** One point of the oracle: the truth to 40 digits rounded to a double, and what R 4.2.2 prints. */
export interface DistributionPoint {
  readonly dist: string;
  readonly fn: string;
  readonly args: Readonly<Record<string, number | string>>;
  readonly at: number;
  readonly value: number;
  readonly r_value?: number | null;
}

/** Our functions by the oracle's names. */
export const distributionTable: Readonly<Record<string, (at: number, a: number, b: number) => number>> = {
  "lgamma value": door.logGamma,
  "normal cdf": door.normalCdf,
  "normal upper": door.normalUpper,
  "normal quantile": door.normalQuantile,
  "t cdf": door.tCdf,
  "t upper": door.tUpper,
  "t quantile": door.tQuantile,
  "f cdf": door.fCdf,
  "f upper": door.fUpper,
  "f quantile": door.fQuantile,
  "chi2 cdf": door.chiSquareCdf,
  "chi2 upper": door.chiSquareUpper,
  "chi2 quantile": door.chiSquareQuantile,
  "beta cdf": door.betaCdf,
  "beta upper": door.betaUpper,
  "beta quantile": door.betaQuantile,
  "gamma cdf": door.gammaCdf,
  "gamma upper": door.gammaUpper,
  "gamma quantile": door.gammaQuantile,
  "tukey cdf": door.studentizedRangeCdf,
  "tukey upper": door.studentizedRangeUpper,
  "tukey quantile": door.studentizedRangeQuantile,
};

export const distributionPoints = (oracle as unknown as { points: DistributionPoint[] }).points;

/** Parameters of a point, in the order of our functions. */
export const parametersOf = (point: DistributionPoint): number[] =>
  Object.values(point.args).map((v) => (v === "inf" ? Infinity : Number(v)));
