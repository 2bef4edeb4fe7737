import { brentMinimum } from "../numeric/minimize.ts";

/** Residual sum of squares of y on block columns and one shape column, with that column's coefficient. */
export interface ProfilePoint {
  readonly rss: number;
  readonly coefficient: number;
}

/**
 * The weighted problem with blocks projected out once, so that each trial value of a nonlinear parameter costs one column.
 *
 * @param basis - block columns, shape [q][n]
 * @returns a function of the shape column, shape [n]; the column is not changed
 */
export function projectedProfile(
  basis: readonly Float64Array[],
  y: Float64Array,
  weight: Float64Array | null,
): (column: Float64Array) => ProfilePoint {
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
  return (column) => {
    const shape = rooted(column);
    const length = product(shape, shape);
    project(shape);
    const left = product(shape, shape);
    if (!(left > 1e-24 * length)) return { rss: total, coefficient: 0 };
    const coefficient = product(shape, response) / left;
    let rss = 0;
    for (let i = 0; i < response.length; i++) rss += (response[i] - coefficient * shape[i]) ** 2;
    return { rss, coefficient };
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
