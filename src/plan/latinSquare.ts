import type { RandomStream } from "../core/random.ts";
import { shuffle } from "./shuffle.ts";

/**
 * A random Latin square of order n: every symbol 0 … n - 1 once in each row and column.
 *
 * A Markov chain over squares and "nearly squares" with moves that reach every square from every other; its stationary distribution is uniform over squares. It starts from the cyclic square
 * and runs until 2 n^3 proper squares were met; rows, columns and symbols are then shuffled, which by itself makes the
 * analysis of variance valid (Fisher & Yates). Orders 1 to 3 need the shuffle only.
 *
 * Source: Jacobson & Matthews (1996), Journal of Combinatorial Designs 4(6), 405-437.
 */
export function latinSquare(n: number, random: RandomStream): number[][] {
  const square = Array.from({ length: n }, (_, r) => Array.from({ length: n }, (_, c) => (r + c) % n));
  if (n > 3) walk(square, n, random);
  const rows = shuffle(
    Array.from({ length: n }, (_, i) => i),
    random,
  );
  const columns = shuffle(
    Array.from({ length: n }, (_, i) => i),
    random,
  );
  const symbols = shuffle(
    Array.from({ length: n }, (_, i) => i),
    random,
  );
  return rows.map((r) => columns.map((c) => symbols[square[r][c]]));
}

/**
 * The chain on the incidence cube: cell(r, c, s) is 1 where symbol s stands in row r and column c. In an improper square one
 * cell is -1, and the lines through it hold two ones, of which the next move takes one at random.
 */
function walk(square: number[][], n: number, random: RandomStream): void {
  const cube = new Int8Array(n * n * n);
  const at = (r: number, c: number, s: number): number => (r * n + c) * n + s;
  for (let r = 0; r < n; r++) for (let c = 0; c < n; c++) cube[at(r, c, square[r][c])] = 1;
  /** A position along one line whose cell is 1; with two of them, one at random. */
  const find = (cell: (i: number) => number): number => {
    const hits: number[] = [];
    for (let i = 0; i < n; i++) if (cube[cell(i)] === 1) hits.push(i);
    return hits.length === 1 ? hits[0] : hits[random.below(hits.length)];
  };
  let improper: readonly [number, number, number] | null = null;
  for (let proper = 0; proper < 2 * n * n * n || improper !== null; ) {
    let r: number;
    let c: number;
    let s: number;
    if (improper === null) {
      do {
        r = random.below(n);
        c = random.below(n);
        s = random.below(n);
      } while (cube[at(r, c, s)] !== 0);
    } else [r, c, s] = improper;
    const r1 = find((i) => at(i, c, s));
    const c1 = find((i) => at(r, i, s));
    const s1 = find((i) => at(r, c, i));
    cube[at(r, c, s)]++;
    cube[at(r, c1, s1)]++;
    cube[at(r1, c, s1)]++;
    cube[at(r1, c1, s)]++;
    cube[at(r1, c, s)]--;
    cube[at(r, c1, s)]--;
    cube[at(r, c, s1)]--;
    cube[at(r1, c1, s1)]--;
    improper = cube[at(r1, c1, s1)] < 0 ? [r1, c1, s1] : null;
    if (improper === null) proper++;
  }
  for (let r = 0; r < n; r++) for (let c = 0; c < n; c++) square[r][c] = find((i) => at(r, c, i));
}
