import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { fUpper } from "../numeric/distributions.ts";
import { extendBasis, projectedSquares } from "../numeric/orthogonalBasis.ts";
import { indexLevels } from "./randomTerm.ts";

/** A named classification of the plots. */
export interface Factor {
  readonly name: string;
  /** Level of each plot, [n]. */
  readonly labels: ArrayLike<string | number>;
}

/** One line of an analysis of variance. */
export interface VarianceRow {
  readonly source: string;
  readonly df: number;
  readonly ss: number;
  readonly ms: number;
  /** Against the residual of its stratum; null for residuals and where there is none. */
  readonly f: number | null;
  readonly p: number | null;
}

/** The part of the variation between units of one size. */
export interface Stratum {
  readonly name: string;
  /** Treatment lines, then "residual" when it has degrees of freedom. */
  readonly rows: readonly VarianceRow[];
}

export interface StrataInput {
  readonly yield: ArrayLike<number>;
  /** Treatment factors; interactions up to `maxOrder` are formed from them. */
  readonly treatments: readonly Factor[];
  /** Nuisance groupings that are fitted first and carry no treatment information (intra-block analysis); default none. */
  readonly blocks?: readonly Factor[];
  /** Groupings of the plots from the largest unit down; each makes a stratum. The plots are the last one. */
  readonly units: readonly Factor[];
  /** Highest interaction; default all. */
  readonly maxOrder?: number;
}

/** What `StrataInput` must look like. */
export const strataInputShape: { readonly [property: string]: Shape } = {
  yield: "numbers",
  treatments: "list",
  blocks: "list?",
  units: "list",
  maxOrder: "number?",
};

/**
 * Analysis of variance in strata: every treatment is tested against the variation of the units it was applied to.
 *
 * The space of the plots is cut into strata by the unit groupings, in order; inside each stratum the treatment terms are
 * fitted in order (main effects, then interactions) and the rest is its residual. For orthogonal designs (randomised
 * blocks, split plots, split-split plots, strips, Latin squares) this is the textbook analysis. In an unbalanced design a
 * term can show in several strata; `spread` names those terms, and the mixed model is then the better analysis.
 *
 * @param input - yields, treatments, nuisance groupings and unit groupings; see `StrataInput`
 * @returns the strata in the order of the units, the plots last, and the names of terms that show in several of them
 * @throws AnalysisError `length-mismatch`, `invalid-data`, `not-offered` above 6,000 plots
 * @example
 * const { strata } = analyseStrata({
 *   yield: [3, 5, 4, 8, 9, 11],
 *   treatments: [{ name: "density", labels: [20, 30, 40, 20, 30, 40] }],
 *   blocks: [{ name: "block", labels: [1, 1, 1, 2, 2, 2] }],
 *   units: [],
 * });
 * strata.at(-1)?.rows[0].ss; // => 4.333333333333333
 *
 * Source: Nelder (1965), Proc. R. Soc. A 283, 147-178. Oracle: R's aov(Error(...)), anova_share.json.
 */
export function analyseStrata(input: StrataInput): { strata: Stratum[]; spread: string[] } {
  checkShape(input, "input", strataInputShape);
  const n = input.yield.length;
  check(n >= 2, "invalid-data", `an analysis of variance needs at least 2 plots, got ${n}`);
  check(
    n <= 6000,
    "not-offered",
    `strata are worked out plot by plot, up to 6,000 plots; ${n} call for fitMixedResponse`,
  );
  for (const factor of [...input.treatments, ...(input.blocks ?? []), ...input.units])
    checkShape(factor, "factor", { name: "text", labels: "labels" });
  for (const { name, labels } of [...input.treatments, ...(input.blocks ?? []), ...input.units]) {
    check(labels.length === n, "length-mismatch", `yield has ${n} values but ${name} has ${labels.length}`);
  }
  const raw = Float64Array.from(input.yield);
  check(raw.every(Number.isFinite), "invalid-data", "yields must be finite numbers");
  const mean = raw.reduce((sum, v) => sum + v, 0) / n;
  const y = raw.map((v) => v - mean);
  const terms = treatmentTerms(input.treatments, input.maxOrder ?? input.treatments.length);

  let spanned: Float64Array[] = [new Float64Array(n).fill(1 / Math.sqrt(n))];
  const strata: Stratum[] = [];
  const seenIn = new Map<string, number>();
  const record = (name: string, rows: VarianceRow[]): void => {
    for (const row of rows)
      if (row.source !== "residual" && row.source !== name) seenIn.set(row.source, (seenIn.get(row.source) ?? 0) + 1);
    strata.push({ name, rows });
  };
  for (const block of input.blocks ?? []) {
    const space = extendBasis(spanned, dummies(block.labels));
    if (space.length === 0) continue;
    record(block.name, [line(block.name, space.length, projectedSquares(space, y))]);
    spanned = [...spanned, ...space];
  }
  for (const unit of input.units) {
    const space = extendBasis(spanned, dummies(unit.labels));
    if (space.length === 0) continue;
    let fitted: Float64Array[] = [];
    const rows: VarianceRow[] = [];
    for (const term of terms) {
      const inside = term.columns.map((column) => projectOn(space, column));
      const added = extendWithin(fitted, inside, term.columns);
      if (added.length === 0) continue;
      rows.push(line(term.name, added.length, projectedSquares(added, y)));
      fitted = [...fitted, ...added];
    }
    record(unit.name, withResidual(rows, space.length - fitted.length, projectedSquares(space, y)));
    spanned = [...spanned, ...space];
  }
  let total = 0;
  for (const v of y) total += v * v;
  const within = total - projectedSquares(spanned, y);
  const rows: VarianceRow[] = [];
  let used = spanned;
  for (const term of terms) {
    const added = extendBasis(used, term.columns);
    if (added.length === 0) continue;
    rows.push(line(term.name, added.length, projectedSquares(added, y)));
    used = [...used, ...added];
  }
  if (n > spanned.length) record("plots", withResidual(rows, n - used.length, within));
  return { strata, spread: [...seenIn].filter(([, count]) => count > 1).map(([name]) => name) };
}

interface Term {
  readonly name: string;
  readonly columns: readonly Float64Array[];
}

/** Main effects and interactions of the treatments, lower orders first. */
function treatmentTerms(treatments: readonly Factor[], maxOrder: number): Term[] {
  const subsets: Factor[][] = [];
  for (let mask = 1; mask < 1 << treatments.length; mask++) {
    const subset = treatments.filter((_, i) => mask & (1 << i));
    if (subset.length <= maxOrder) subsets.push(subset);
  }
  subsets.sort((a, b) => a.length - b.length);
  return subsets.map((subset) => ({
    name: subset.map(({ name }) => name).join(" x "),
    columns: dummies(crossLabels(subset)),
  }));
}

/** Labels of the combinations of several factors. */
export function crossLabels(factors: readonly Factor[]): string[] {
  return Array.from({ length: factors[0].labels.length }, (_, i) =>
    factors.map(({ labels }) => String(labels[i])).join(" / "),
  );
}

/** Indicator columns of a classification. */
export function dummies(labels: ArrayLike<string | number>): Float64Array[] {
  const { levels, index } = indexLevels(Array.from(labels, String));
  return levels.map((_, l) => Float64Array.from(index, (at) => (at === l ? 1 : 0)));
}

function projectOn(basis: readonly Float64Array[], column: Float64Array): Float64Array {
  const out = new Float64Array(column.length);
  for (const q of basis) {
    let along = 0;
    for (let i = 0; i < column.length; i++) along += q[i] * column[i];
    if (along !== 0) for (let i = 0; i < column.length; i++) out[i] += along * q[i];
  }
  return out;
}

/** New directions of projected columns; a projection that is only rounding of its column adds nothing. */
function extendWithin(
  fitted: readonly Float64Array[],
  projected: readonly Float64Array[],
  originals: readonly Float64Array[],
): Float64Array[] {
  const squares = (v: Float64Array): number => v.reduce((sum, value) => sum + value * value, 0);
  return extendBasis(
    fitted,
    projected.filter((column, i) => squares(column) > 1e-16 * squares(originals[i])),
  );
}

function line(source: string, df: number, ss: number): VarianceRow {
  return { source, df, ss, ms: ss / df, f: null, p: null };
}

/** Adds the residual line and the tests against it. */
function withResidual(rows: VarianceRow[], df: number, total: number): VarianceRow[] {
  if (df <= 0) return rows;
  const fitted = rows.reduce((sum, row) => sum + row.ss, 0);
  const residual = line("residual", df, Math.max(0, total - fitted));
  const tested = rows.map((row) => {
    if (!(residual.ms > 1e-24 * total)) return row;
    const f = row.ms / residual.ms;
    return { ...row, f, p: fUpper(f, row.df, df) };
  });
  return [...tested, residual];
}
