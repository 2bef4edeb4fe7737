import { square } from "../core/elementary.ts";
import { brentMinimum } from "../numeric/minimize.ts";

/** Residual sum of squares of y on block columns and one shape column, with that column's coefficient. */
export interface ProfilePoint {
  readonly rss: number;
  readonly coefficient: number;
}

/** The profile of a problem and the densities at which it wants its shape columns. */
export interface Profile {
  /** Distinct densities when plots share them, all densities otherwise; shape [m]. */
  readonly x: Float64Array;
  /** Least squares of y on the blocks and this shape column, shape [m]. */
  readonly at: (column: Float64Array) => ProfilePoint;
}

/**
 * The weighted problem with blocks projected out once, so that each trial value of a nonlinear parameter costs one column.
 * A shape depends on density alone: with few distinct densities it costs a small quadratic form.
 *
 * @param basis - block columns, shape [q][n]
 */
export function projectedProfile(
  basis: readonly Float64Array[],
  x: Float64Array,
  y: Float64Array,
  weight: Float64Array | null,
): Profile {
  const root = weight ? weight.map(Math.sqrt) : null;
  const rooted = (values: Float64Array): Float64Array =>
    root ? values.map((v, i) => v * root[i]) : Float64Array.from(values);
  const orthonormal: Float64Array[] = [];
  const project = (values: Float64Array): Float64Array => {
    for (let pass = 0; pass < 2; pass++) {
      for (const other of orthonormal) {
        const share = product(values, other);
        for (let i = 0; i < values.length; i++) values[i] -= share * other[i];
      }
    }
    return values;
  };
  for (const column of basis) {
    const before = rooted(column);
    const rest = project(Float64Array.from(before));
    const left = product(rest, rest);
    if (left > 1e-20 * product(before, before)) orthonormal.push(rest.map((v) => v / Math.sqrt(left)));
  }
  const response = project(rooted(y));
  const total = product(response, response);

  const levels = Float64Array.from(new Set(x)).sort();
  if (levels.length * levels.length > 2 * x.length * (basis.length + 1)) {
    return {
      x,
      at(column) {
        const shape = rooted(column);
        const length = product(shape, shape);
        project(shape);
        const left = product(shape, shape);
        if (!(left > 1e-24 * length)) return { rss: total, coefficient: 0 };
        const coefficient = product(shape, response) / left;
        let rss = 0;
        for (let i = 0; i < response.length; i++) rss += square(response[i] - coefficient * shape[i]);
        return { rss, coefficient };
      },
    };
  }
  const indicators = Array.from(levels, (level) => project(rooted(x.map((v) => (v === level ? 1 : 0)))));
  const m = levels.length;
  const form = new Float64Array(m * m);
  for (let a = 0; a < m; a++) for (let b = 0; b < m; b++) form[a * m + b] = product(indicators[a], indicators[b]);
  const across = Float64Array.from(indicators, (indicator) => product(indicator, response));
  return {
    x: levels,
    at(column) {
      let left = 0;
      let share = 0;
      let length = 0;
      for (let a = 0; a < m; a++) {
        let row = 0;
        for (let b = 0; b < m; b++) row += form[a * m + b] * column[b];
        left += row * column[a];
        share += across[a] * column[a];
        length += form[a * m + a] * column[a] * column[a];
      }
      if (!(left > 1e-14 * length)) return { rss: total, coefficient: 0 };
      return { rss: Math.max(total - (share * share) / left, 0), coefficient: share / left };
    },
  };
}

function product(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i] * b[i];
  return sum;
}

/**
 * Local minima of a function given on an ascending grid, each refined between its neighbours; best first. Minima on the ends
 * of the grid are not minima of the function and are left out.
 */
export function localMinima(
  grid: ArrayLike<number>,
  f: (t: number) => number,
): { readonly t: number; readonly value: number }[] {
  const values = Float64Array.from(grid, f);
  const found: { t: number; value: number }[] = [];
  for (let i = 1; i < values.length - 1; i++) {
    if (!(values[i] < values[i - 1] && values[i] <= values[i + 1])) continue;
    const fine = brentMinimum(f, grid[i - 1], grid[i + 1], 1e-9);
    found.push(fine.value < values[i] ? { t: fine.x, value: fine.value } : { t: grid[i], value: values[i] });
  }
  return found.sort((a, b) => a.value - b.value);
}

/** count + 1 values from `from` to `to` in equal steps. */
export function steps(from: number, to: number, count: number): Float64Array {
  return Float64Array.from({ length: count + 1 }, (_, i) => from + ((to - from) * i) / count);
}
