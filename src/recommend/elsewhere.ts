import { exp, pow } from "../core/elementary.ts";
import type { Crop, DensityUnit } from "../trial/trial.ts";
import { convertDensity } from "../trial/units.ts";

/**
 * What is known about the crop's response from other trials, as loose as such knowledge is: where the agronomic optimum lies,
 * how sharply yield bends around it, and how far both differ between fields, seasons and hybrids.
 */
export interface Elsewhere {
  /** Agronomic optimum at harvest and its standard deviation between trials. */
  readonly optimum: number;
  readonly optimumSpread: number;
  readonly unit: DensityUnit;
  /**
   * Yield lost one unit of density away from the optimum, as a share of the yield there (a parabola: k times away loses k^2
   * times as much), the middle of many trials, and the standard deviation of its logarithm.
   */
  readonly bend: number;
  readonly bendSpread: number;
  readonly source: string;
}

/**
 * Maize, mostly of the US corn belt.
 *
 * Optimum: 31,600 plants/ac over 81 Indiana field trials; spread 5,000: the economic optima of 93 Ohio trials ran from 18,000 to
 * 44,340 seeds/ac, about 5 standard deviations in that many, error of estimation included. Bend: 0.0005 of the yield per
 * (1,000 plants/ac)^2, between 0.00034 (0.0648 bu/ac implied by the distance of published agronomic and economic optima, at 190
 * bu/ac) and 0.00077 (planting-date table over 10,000 to 36,000); its spread is our judgement.
 */
export const maizeElsewhere: Elsewhere = Object.freeze({
  optimum: 31.6,
  optimumSpread: 5,
  unit: "1000 plants/ac",
  bend: 0.0005,
  bendSpread: 0.7,
  source:
    "Purdue extension (81 Indiana trials), Ohio State extension newsletter 2019-09 (93 trials), Nafziger (1994) J. Prod. Agric. 7, 59-62",
});

/** Published knowledge for a crop; null where we know of none. */
export function publishedElsewhere(crop: Crop): Elsewhere | null {
  return crop.name === "maize" ? maizeElsewhere : null;
}

/** Mean and covariance of (rise over the tested range, sag of its middle), in yield units. */
export interface RangeContrasts {
  readonly mean: readonly [number, number];
  readonly vcov: readonly [readonly [number, number], readonly [number, number]];
}

/**
 * The same knowledge as two contrasts of a curve on the tested range: rise = Y(high) - Y(low), sag = 2 Y(middle) - Y(low) - Y(high).
 *
 * A parabola -k (x - m)^2 has rise = 2 k w (m - c) and sag = k w^2 / 2, with w the width and c the middle of the range; moments
 * follow with m normal and k lognormal, independent.
 *
 * @param level - yield of the trial, to turn the bend into yield units
 */
export function elsewhereContrasts(
  elsewhere: Elsewhere,
  level: number,
  [low, high]: readonly [number, number],
  unit: DensityUnit,
  standPerX: number,
): RangeContrasts {
  // On the trial's axis: x = stand / standPerX.
  const one = convertDensity(1, elsewhere.unit, unit) / standPerX;
  const optimum = elsewhere.optimum * one;
  const spread = elsewhere.optimumSpread * one;
  const grown = exp(elsewhere.bendSpread * elsewhere.bendSpread);
  const bend = (elsewhere.bend * Math.sqrt(grown) * level) / (one * one);
  const bendVariance = bend * bend * (grown - 1);
  const width = high - low;
  const away = optimum - (low + high) / 2;
  const square = bend * bend + bendVariance;
  const riseVariance = 4 * width * width * (square * (spread * spread + away * away) - bend * bend * away * away);
  const cross = width * width * width * away * bendVariance;
  return {
    mean: [2 * bend * width * away, (bend * width * width) / 2],
    vcov: [
      [riseVariance, cross],
      [cross, (pow(width, 4) * bendVariance) / 4],
    ],
  };
}
