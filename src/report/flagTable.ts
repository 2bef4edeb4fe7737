import type { LodgingReport } from "../analyze/standability.ts";
import type { StandabilityFlag } from "../standability/standabilityFlags.ts";
import { fixed, percentage, significant } from "./numberText.ts";
import { foundShare, passWords, shareRange, statedShare, stateWords } from "./standWords.ts";
import { textTable } from "./textTable.ts";
import type { Words } from "./words.ts";

/** Trials over several environments have many densities; beyond this number neighbours share a line. */
const MOST_LINES = 10;
/** Lines when the densities fall into no clear groups. */
const EVEN_LINES = 8;

/** A line for each tested density, or for each group of neighbours (one rate in several environments): lodged, share, verdict. */
export function flagTable({ kind, flags, limit }: LodgingReport, words: Words, width: number, full: boolean): string[] {
  if (flags.flags.length === 0) return [];
  const runs = full || flags.flags.length <= MOST_LINES ? flags.flags.map((flag) => [flag]) : neighbours(flags.flags);
  const counted = flags.flags.every(({ examined }) => examined !== null);
  const merged = runs.some((run) => run.length > 1);
  const test = kind === "push" || kind === "pinch";
  const states = test ? passWords : stateWords;
  const level = significant(100 * flags.level, 4);
  const rows = runs.map((run) => {
    const first = run[0] as StandabilityFlag;
    const last = run[run.length - 1] as StandabilityFlag;
    const sum = (value: (flag: StandabilityFlag) => number): number =>
      run.reduce((total, flag) => total + value(flag), 0);
    const span = (low: string, high: string): string => (low === high ? low : `${low} to ${high}`);
    return [
      span(words.density(first.density), words.density(last.density)),
      fixed(
        sum(({ plots }) => plots),
        0,
      ),
      counted
        ? `${fixed(
            sum(({ lodged }) => lodged),
            0,
          )} of ${fixed(
            sum(({ examined }) => examined ?? 0),
            0,
          )}`
        : foundShare(sum(({ lodged, plots }) => lodged * plots) / sum(({ plots }) => plots)),
      shareRange(first.share, last.share),
      shareRange(first.interval.lower ?? 0, last.interval.upper ?? 1),
      span(percentage(first.probability), percentage(last.probability)),
      span(states[first.state], states[last.state]),
    ];
  });
  return textTable(
    [
      { heading: words.place === "stand" ? "\nStand" : "Seeding\nrate", align: "left" },
      { heading: "\nPlots", align: "right" },
      { heading: counted ? (test ? "\nFailed" : "\nLodged") : "Mean\nshare", align: "right" },
      { heading: "Fitted\nshare", align: "left" },
      { heading: `Its ${level} %\n${merged ? "ranges" : "range"}`, align: "left" },
      { heading: `Chance it is\nabove ${statedShare(limit.tolerated)}`, align: "left" },
      { heading: "\nVerdict", align: "left" },
    ],
    rows,
    width,
    "  ",
  );
}

/** Cuts ascending densities at their wide gaps; where no gap stands out, into groups of like size. */
function neighbours(flags: readonly StandabilityFlag[]): StandabilityFlag[][] {
  const gaps = flags.slice(1).map((flag, i) => flag.density - (flags[i] as StandabilityFlag).density);
  const wide = [...gaps].sort((a, b) => b - a);
  let groups = 0;
  let best = 2;
  for (let k = 2; k <= Math.min(MOST_LINES, wide.length); k++) {
    const ratio = (wide[k - 2] as number) / (wide[k - 1] as number);
    if (ratio > best) [groups, best] = [k, ratio];
  }
  const cut = groups === 0 ? null : (wide[groups - 2] as number);
  const runs: StandabilityFlag[][] = [];
  flags.forEach((flag, i) => {
    const opens =
      cut === null
        ? Math.floor((i * EVEN_LINES) / flags.length) !== Math.floor(((i - 1) * EVEN_LINES) / flags.length)
        : (gaps[i - 1] as number) >= cut;
    const run = runs[runs.length - 1];
    if (run === undefined || (i > 0 && opens)) runs.push([flag]);
    else run.push(flag);
  });
  return runs;
}
