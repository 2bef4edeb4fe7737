/** Digits that one figure of one reference set keeps: the fewest over the numbers compared. */
export interface Score {
  readonly area: string;
  readonly set: string;
  readonly figure: string;
  readonly digits: number;
  /** Numbers compared. */
  readonly count: number;
  /** The set is read beside the repository, because its data may not be copied. */
  readonly beside: boolean;
}

/** Compared digits never exceed this: a double carries 15.95, and equal numbers would have infinitely many. */
export const MOST_DIGITS = 15;

/**
 * Correct digits as log relative error, -log10(|actual - expected| / |expected|), between 0 and 15; absolute error where the
 * truth is zero. A missing or non-finite answer has none.
 *
 * Source: McCullough (1998), The American Statistician 52, 358-366.
 */
export function digitsOf(actual: number | null | undefined, expected: number): number {
  if (actual === expected) return MOST_DIGITS;
  if (actual == null || !Number.isFinite(actual)) return 0;
  const error = Math.abs(actual - expected) / (expected === 0 ? 1 : Math.abs(expected));
  return Math.min(MOST_DIGITS, Math.max(0, -Math.log10(error)));
}

/** Collects comparisons of one area; figures of one set that bear the same name are taken together. */
export interface Collector {
  readonly add: (set: string, figure: string, actual: number | null | undefined, expected: number) => void;
  readonly scores: () => Score[];
}

export function collect(area: string, beside: (set: string) => boolean = () => false): Collector {
  const found = new Map<string, Score>();
  return {
    add(set, figure, actual, expected) {
      const digits = digitsOf(actual, expected);
      const key = `${set}|${figure}`;
      const before = found.get(key);
      found.set(key, {
        ...{ area, set, figure, beside: beside(set) },
        digits: Math.min(digits, before?.digits ?? MOST_DIGITS),
        count: (before?.count ?? 0) + 1,
      });
    },
    scores: () => [...found.values()],
  };
}
