import { pow } from "../core/elementary.ts";
import type { CheckedPlot } from "./checkedPlot.ts";

/** Signs that the order in the blocks was not drawn. A chance is null when the pattern is not there. */
export interface SystematicOrder {
  /** Chance that all blocks have one order of treatments, read from either end: (2 / t!)^(blocks - 1). */
  readonly sameOrder: number | null;
  /** Chance that rates rise or fall along every block, equal rates standing together: (2 x orders of equals / t!)^blocks. */
  readonly inOrder: number | null;
  /** A treatment has several plots in a block, and all such plots stand side by side. */
  readonly adjacent: boolean;
}

/** @param sequences - the plots of each block in the order of the field */
export function systematicOrder(
  sequences: readonly (readonly CheckedPlot[])[],
  treatmentOf: (plot: CheckedPlot) => string,
): SystematicOrder {
  const names = sequences.map((list) => list.map(treatmentOf));
  const size = names[0].length;
  const key = (list: readonly string[]): string => list.join("\n");
  const first = key(names[0]);
  const same = names.every((list) => key(list) === first || key([...list].reverse()) === first);
  const distinct = names.every((list) => new Set(list).size === list.length);
  const sameOrder =
    sequences.length > 1 && size > 2 && same && distinct ? pow(2 / factorial(size), sequences.length - 1) : null;

  const monotone = sequences.every((list) => {
    const steps = list.slice(1).map((plot, i) => (plot.seedingRate as number) - (list[i].seedingRate as number));
    return (
      list.length > 2 &&
      new Set(list.map((plot) => plot.seedingRate)).size > 2 &&
      (steps.every((d) => d >= 0) || steps.every((d) => d <= 0))
    );
  });
  const inOrder = monotone
    ? sequences.reduce((chance, list) => {
        const counts = new Map<number | null, number>();
        for (const { seedingRate } of list) counts.set(seedingRate, (counts.get(seedingRate) ?? 0) + 1);
        const ties = [...counts.values()].reduce((product, n) => product * factorial(n), 1);
        return chance * Math.min((2 * ties) / factorial(list.length), 1);
      }, 1)
    : null;
  return { sameOrder, inOrder, adjacent: names.some(standTogether) };
}

/** Some treatment comes more than once, and every treatment that does stands in one run. */
function standTogether(list: readonly string[]): boolean {
  const repeated = [...new Set(list)].filter((name) => list.indexOf(name) !== list.lastIndexOf(name));
  return (
    repeated.length > 0 &&
    repeated.every((name) => {
      const from = list.indexOf(name);
      const to = list.lastIndexOf(name);
      return list.slice(from, to + 1).every((other) => other === name);
    })
  );
}

function factorial(n: number): number {
  let product = 1;
  for (let i = 2; i <= n; i++) product *= i;
  return product;
}
