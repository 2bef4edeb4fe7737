/**
 * One random term: a vector of coefficients for every level of a grouping factor, drawn from N(0, sigma^2 Gamma).
 */
export interface RandomTerm {
  /** Name used in results, such as "environment" or "block in environment". */
  readonly name: string;
  /** Level of the grouping factor per row, shape [n]. Nested levels must carry their parent ("S1 R1", not "R1"). */
  readonly group: ArrayLike<string | number>;
  /** Columns the coefficients multiply, each of shape [n]; default one column of ones (a random intercept). */
  readonly columns?: readonly ArrayLike<number>[];
  /** Names of the columns; default "intercept" for the first, "z", "z2" for the next. */
  readonly columnNames?: readonly string[];
  /** `unstructured` (default): all variances and covariances; `diagonal`: variances only. */
  readonly structure?: "unstructured" | "diagonal";
}

/** A random term brought to indices. */
export interface TermLayout {
  readonly name: string;
  readonly columnNames: readonly string[];
  readonly width: number;
  readonly levels: readonly (string | number)[];
  /** Index into `levels` per row, shape [n]. */
  readonly index: Int32Array;
  /** Values of the columns, one array per column. */
  readonly columns: readonly Float64Array[];
  /** Pairs (a, b), a >= b, of the covariance elements that are estimated. */
  readonly pairs: readonly (readonly [number, number])[];
  readonly diagonal: boolean;
}

const DEFAULT_NAMES = ["intercept", "z", "z2"];

/** Indexes the levels of a grouping factor in order of first appearance. */
export function indexLevels<T extends string | number>(group: ArrayLike<T>): { levels: T[]; index: Int32Array } {
  const levels: T[] = [];
  const seen = new Map<T, number>();
  const index = new Int32Array(group.length);
  for (let i = 0; i < group.length; i++) {
    let at = seen.get(group[i]);
    if (at === undefined) {
      at = levels.length;
      seen.set(group[i], at);
      levels.push(group[i]);
    }
    index[i] = at;
  }
  return { levels, index };
}

/** Brings a random term to indices and typed columns. */
export function layoutTerm(term: RandomTerm, n: number): TermLayout {
  const { levels, index } = indexLevels(term.group);
  const columns = (term.columns ?? [new Float64Array(n).fill(1)]).map((column) => Float64Array.from(column));
  const width = columns.length;
  const diagonal = term.structure === "diagonal" || width === 1;
  const pairs: [number, number][] = [];
  for (let b = 0; b < width; b++) for (let a = b; a < width; a++) if (a === b || !diagonal) pairs.push([a, b]);
  const columnNames = term.columnNames ?? columns.map((_, i) => DEFAULT_NAMES[i] ?? `column ${i + 1}`);
  return { name: term.name, columnNames, width, levels, index, columns, pairs, diagonal };
}
