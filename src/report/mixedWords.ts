import type { MixedOptimumReport } from "../analyze/environmentsResult.ts";
import type { TrialAnalysis } from "../analyze/result.ts";
import type { Interval } from "../core/interval.ts";
import { intervalCell, intervalText, optimumCell } from "./intervalWords.ts";
import type { Words } from "./words.ts";

/** How optima of expected curves are written: as seeding rates where known, else as densities. */
export interface MixedWords {
  /** Unit of table columns. */
  readonly unit: string;
  readonly inSeeds: boolean;
  /** "34.2", "43.5 or more". */
  best(report: MixedOptimumReport): string;
  /** "32.1 to 36.0", "not bounded". */
  range(report: MixedOptimumReport): string;
  /** "34.1 thousand plants/ac (35,900 seeds/ac; 95 % range 33.0 to 35.4)". */
  told(report: MixedOptimumReport, level: string): string;
}

/** Words for optima; `seeds` asks for seeding rates wherever they are known. */
export function mixedWords(analysis: TrialAnalysis, words: Words, seeds: boolean): MixedWords {
  const inSeeds = seeds && analysis.trial.densityAxis !== "seeding-rate" && analysis.trial.establishment !== null;
  const show = inSeeds ? words.seedsInTable : words.density;
  const factor = ({ axes, density }: MixedOptimumReport): number =>
    inSeeds && axes.seedingRate !== null ? axes.seedingRate / density : 1;
  return {
    unit: inSeeds ? words.seedTableUnit : words.densityUnit,
    inSeeds,
    best: (report) => optimumCell(report.kind, report.density * factor(report), show),
    range: (report) =>
      report.interval === null ? "unknown" : intervalCell(scaled(report.interval, factor(report)), show),
    told(report, level) {
      const { density, axes, interval, kind } = report;
      const rate =
        axes.seedingRate !== null && words.place === "stand"
          ? `${words.seeds(axes.seedingRate)} ${words.seedUnit}; `
          : "";
      const range = interval === null ? "" : `${level} % range ${intervalText(interval, words.density)}`;
      const beside = `${rate}${range}`.replace(/; $/, "");
      return `${optimumCell(kind, density, words.density, words.densityUnit)}${beside === "" ? "" : ` (${beside})`}`;
    },
  };
}

function scaled(interval: Interval, factor: number): Interval {
  const by = (value: number | null): number | null => (value === null ? null : value * factor);
  const { pieces, ...whole } = interval;
  return {
    ...whole,
    lower: by(interval.lower),
    upper: by(interval.upper),
    ...(pieces === undefined
      ? {}
      : { pieces: pieces.map(({ lower, upper }) => ({ lower: by(lower), upper: by(upper) })) }),
  };
}
