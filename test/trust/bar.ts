import file from "./bars.json" with { type: "json" };
import type { Score } from "./score.ts";

/** A bar that was set before measuring, from outside the project. */
export interface Bar {
  readonly area: string;
  readonly set?: string;
  readonly figure?: string;
  readonly digits: number;
  /** Digits that any method working on doubles can reach, where that is fewer than the bar. */
  readonly reachable?: number;
  readonly source: string;
  readonly why?: string;
}

export const bars: readonly Bar[] = file.bars;

/** The figure that shows R beside ours; nothing is asked of it. */
export const OF_R = "R 4.2.2";

/** The bar of a figure: the entry that names most of its set and figure. */
export function barOf({ area, set, figure }: Score): Bar {
  const weight = (bar: Bar): number => (bar.set === undefined ? 0 : 1) + (bar.figure === undefined ? 0 : 1);
  const fitting = bars.filter(
    (bar) => bar.area === area && (bar.set ?? set) === set && (bar.figure ?? figure) === figure,
  );
  const best = fitting.sort((a, b) => weight(b) - weight(a))[0];
  if (!best) throw new Error(`no bar for ${area}`);
  return best;
}

/** Name of a figure in the file of floors. */
export const keyOf = ({ area, set, figure }: Score): string => `${area} | ${set} | ${figure}`;
