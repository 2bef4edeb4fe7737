import type { OnAxes } from "../analyze/result.ts";
import type { CountTime, LodgingKind, LodgingReport, Standing } from "../analyze/standability.ts";
import type { Interval } from "../core/interval.ts";
import type { StandabilityState } from "../standability/standabilityFlags.ts";
import type { StandMeasure } from "../trial/trial.ts";
import { intervalText } from "./intervalWords.ts";
import { fixed, significant } from "./numberText.ts";
import { plainText } from "./plainText.ts";
import type { Words } from "./words.ts";

/** What the plants did, at the start of a sentence. */
export const kindSubject: Readonly<Record<LodgingKind, string>> = {
  all: "Lodging of any kind",
  any: "Lodging",
  stalk: "Stalk lodging",
  root: "Root lodging",
  "green-snap": "Green snap",
  push: "Failure in the push test",
  pinch: "Failure in the pinch test",
};

export const stateWords: Readonly<Record<StandabilityState, string>> = {
  stands: "stands",
  "likely-stands": "likely stands",
  "likely-lodges": "likely lodges",
  lodges: "lodges",
};

/** The same for a push or pinch test. */
export const passWords: Readonly<Record<StandabilityState, string>> = {
  stands: "passes",
  "likely-stands": "likely passes",
  "likely-lodges": "likely fails",
  lodges: "fails",
};

export const measureWords: Readonly<Record<StandMeasure, string>> = {
  "stalk-diameter": "Stalk diameter",
  "rind-strength": "Rind strength",
  "plant-height": "Plant height",
  "ear-height": "Ear height",
  "root-score": "Root score",
};

/** "10 %", "7.5 %": a share that was stated. */
export function statedShare(share: number): string {
  return `${significant(100 * share, 4)} %`;
}

/** "0 %", "below 0.1 %", "0.8 %", "22 %": a share that was found. */
export function foundShare(share: number): string {
  if (share > 0 && share < 0.0005) return "below 0.1 %";
  return `${percentNumber(share)} %`.replace(/^0\.0 /, "0 ");
}

/** "0.8 to 2.4 %", "0.0 to 0.1 %", "22 %". */
export function shareRange(lower: number, upper: number): string {
  const [low, high] = [percentNumber(lower), percentNumber(upper)];
  return low === high ? foundShare(upper) : `${low} to ${high} %`;
}

function percentNumber(share: number): string {
  return fixed(100 * share, 100 * share < 9.95 ? 1 : 0);
}

/** "counted 2031-10-05, 12 days after maturity"; empty when the file gives no time. */
export function countedWhen({ date, daysAfterMaturity: days }: CountTime): string {
  const parts = [
    ...(date === null ? [] : [plainText(date)]),
    ...(days === null
      ? []
      : [
          `${days[0] === days[1] ? significant(days[0], 3) : `${significant(days[0], 3)} to ${significant(days[1], 3)}`} days after maturity`,
        ]),
  ];
  return parts.length === 0 ? "" : `counted ${parts.join(", ")}`;
}

/** A density on the trial's axis without its unit. */
export function shownDensity(words: Words): (x: number) => string {
  return words.place === "stand" ? words.density : words.seeds;
}

export function densityUnitOf(words: Words): string {
  return words.place === "stand" ? words.densityUnit : words.seedUnit;
}

/** "29.8 thousand plants/ac (31,400 seeds/ac; 95 % range 28.3 to 30.9)": the other axis and `more` follow in brackets. */
export function placeText(x: number, { stand, seedingRate }: OnAxes, words: Words, more = ""): string {
  const onStand = words.place === "stand";
  const other = onStand
    ? seedingRate === null
      ? ""
      : `${words.seeds(seedingRate)} ${words.seedUnit}`
    : stand === null
      ? ""
      : `a stand of about ${words.density(stand)} ${words.standUnit}`;
  const inside = [other, more].filter((text) => text !== "").join("; ");
  return `${shownDensity(words)(x)} ${densityUnitOf(words)}${inside === "" ? "" : ` (${inside})`}`;
}

/** Where a kind of lodging passes the tolerated share, in a table cell. */
export function limitCell({ limit }: LodgingReport, words: Words): string {
  const show = words.density;
  if (limit.kind === "interior") return show(limit.density as number);
  if (limit.kind === "above-range") return `above ${show(limit.range[1])}`;
  return limit.kind === "below-range" ? `below ${show(limit.range[0])}` : "not placed";
}

/** An interval of a limit in words; nothing when there is none. */
export function limitRange(interval: Interval | null, show: (x: number) => string, unit = ""): string {
  if (interval === null || (interval.lower === null && interval.upper === null && interval.pieces === undefined))
    return "";
  return intervalText(interval, show, unit);
}

/** "best-paying stand", "stand of highest yield". */
export function optimumName({ target }: Standing, words: Words): string {
  return target === "economic" ? `best-paying ${words.place}` : `${words.place} of highest yield`;
}
