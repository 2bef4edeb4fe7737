import { nameText } from "./figureText.ts";

/** Letters of a name that a row of a chart shows. */
const LONGEST = 28;

/**
 * Names as they stand beside the rows of a chart. Long ones are cut, and two that then look alike get blanks without width behind them, since
 * a chart puts equal labels into one row.
 */
export function distinctLabels(names: readonly string[]): string[] {
  const seen = new Map<string, number>();
  return names.map((name) => {
    const label = nameText(name, LONGEST);
    const before = seen.get(label) ?? 0;
    seen.set(label, before + 1);
    return `${label}${"\u200b".repeat(before)}`;
  });
}
