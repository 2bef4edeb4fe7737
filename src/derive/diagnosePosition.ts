import { pow, square } from "../core/elementary.ts";
import { streamRandom } from "../core/random.ts";
import { fUpper } from "../numeric/distributions.ts";
import { leastSquares } from "../numeric/leastSquares.ts";
import { type Check, type CheckInput, finished, notTested } from "./diagnoseCheck.ts";
import { factorColumns } from "./diagnoseMean.ts";

/** Plots of each environment in field order. */
function lines({ data, order }: CheckInput): number[][] {
  const groups: number[][] = Array.from({ length: data.environment?.labels.length ?? 1 }, () => []);
  for (let i = 0; i < data.x.length; i++) groups[data.environment?.of[i] ?? 0].push(i);
  for (const own of groups) own.sort((a, b) => (order?.[a] ?? 0) - (order?.[b] ?? 0));
  return groups;
}

/** Sum of squared steps between neighbours over the sum of squares. Source: Durbin & Watson (1950), Biometrika 37, 409-428. */
export function durbinWatson(values: ArrayLike<number>, rows: readonly (readonly number[])[]): number {
  let steps = 0;
  let squares = 0;
  for (const row of rows) {
    row.forEach((plot, k) => {
      squares += values[plot] * values[plot];
      if (k > 0) steps += square(values[plot] - values[row[k - 1]]);
    });
  }
  return steps / squares;
}

const SHUFFLES = 1999;

/**
 * Likeness of neighbouring plots: Durbin-Watson along the field, its p from shuffling residuals within blocks (exact under
 * exchangeable errors up to the small dependence among residuals). Its effect: yields with the mean residual of the two
 * neighbours taken off, fitted together with blocks and densities.
 *
 * Source: Durbin & Watson (1950); neighbour adjustment: Papadakis (1937), as in Bartlett (1978), JRSS B 40, 147-174.
 */
export function neighbourCheck(input: CheckInput): Check {
  const name = "neighbours";
  const { data, residuals, order, alpha, seed } = input;
  if (order === null)
    return notTested(name, "likeness of neighbours: the order of the plots in the field is not known");
  const rows = lines(input);
  const scaled = residuals.map((r, i) => r * Math.sqrt(data.weight[i]));
  const observed = durbinWatson(scaled, rows);
  if (!Number.isFinite(observed)) return notTested(name, "likeness of neighbours: there is no scatter");
  const random = streamRandom(seed, 0);
  const blocks: number[][] = Array.from({ length: data.design.blocks }, () => []);
  data.block.forEach((b, i) => {
    blocks[b].push(i);
  });
  const shuffled = scaled.slice();
  let asLow = 0;
  for (let s = 0; s < SHUFFLES; s++) {
    for (const own of blocks) {
      for (let k = own.length - 1; k > 0; k--) {
        const j = random.below(k + 1);
        const held = shuffled[own[k]];
        shuffled[own[k]] = shuffled[own[j]];
        shuffled[own[j]] = held;
      }
    }
    if (durbinWatson(shuffled, rows) <= observed * (1 + 1e-12)) asLow++;
  }
  const p = (asLow + 1) / (SHUFFLES + 1);
  const covariate = neighbourMeans(residuals, rows);
  const adjustedYield = without(input, [covariate]);
  return finished(
    name,
    { name: "Durbin-Watson", value: observed, dof: [] },
    p,
    alpha,
    p < alpha
      ? "neighbouring plots are alike beyond their blocks: the field is uneven"
      : "neighbouring plots are no more alike than others",
    adjustedYield && input.effect("with neighbours' residuals taken off", input.again({ yield: adjustedYield })),
  );
}

function neighbourMeans(residuals: Float64Array, rows: readonly (readonly number[])[]): Float64Array {
  const out = new Float64Array(residuals.length);
  for (const row of rows) {
    row.forEach((plot, k) => {
      const beside = [row[k - 1], row[k + 1]].filter((other) => other !== undefined);
      out[plot] = beside.reduce((sum, other) => sum + residuals[other], 0) / Math.max(beside.length, 1);
    });
  }
  return out;
}

/** Yields less their regression on covariates, estimated beside blocks and densities so that no density effect goes with it. */
function without(input: CheckInput, covariates: readonly Float64Array[]): Float64Array | null {
  const { y, weight } = input.data;
  const columns = factorColumns(input);
  if (columns.length + covariates.length >= y.length) return null;
  const fit = leastSquares([...columns, ...covariates], y, { weight });
  if (fit.status !== "converged") return null;
  return y.map((value, i) =>
    covariates.reduce((sum, column, j) => sum - fit.coef[columns.length + j] * column[i], value),
  );
}

/** Share of the density information that may run with the trend before naive and adjusted answers are not compared: our convention. */
const CONFOUNDED = 0.5;

/**
 * Trend along the field: F test of a polynomial in the position (one for each environment) beside blocks and densities; its
 * effect is the optimum after taking the trend off, shown beside the naive one. Refused where density itself runs along the field.
 */
export function trendCheck(input: CheckInput): Check {
  const name = "position-trend";
  const { data, order, alpha, trendDegree } = input;
  if (order === null) return notTested(name, "trend along the field: the order of the plots in the field is not known");
  const columns = factorColumns(input);
  const trend = trendColumns(input, order);
  const { y, weight, x } = data;
  const plain = leastSquares(columns, y, { weight });
  const dof = y.length - plain.rank - trend.length;
  if (plain.status !== "converged" || dof < 1)
    return notTested(name, "trend along the field: too few plots beside blocks and densities");
  const blocks = columns.slice(0, data.design.blocks);
  const alone = leastSquares(blocks, x, { weight }).rss;
  const within = leastSquares([...blocks, ...trend], x, { weight });
  const share = alone > 0 ? 1 - within.rss / alone : 1;
  const wider = leastSquares([...columns, ...trend], y, { weight });
  if (share > CONFOUNDED || wider.status !== "converged") {
    return notTested(
      name,
      `trend along the field: ${Math.round(100 * share)} % of the density differences run along the field, so a trend cannot be told from density`,
    );
  }
  const f = Math.max(plain.rss - wider.rss, 0) / trend.length / (wider.rss / dof);
  const p = fUpper(f, trend.length, dof);
  const adjustedYield = without(input, trend);
  return finished(
    name,
    { name: "F", value: f, dof: [trend.length, dof] },
    p,
    alpha,
    p < alpha ? "yield drifts along the field beyond the blocks" : "no drift along the field beyond the blocks",
    adjustedYield &&
      input.effect(
        `with a ${trendDegree === 1 ? "straight" : "quadratic"} trend along the field taken off`,
        input.again({ yield: adjustedYield }),
      ),
  );
}

/** Position and its square, centred and scaled, zero outside the environment. */
function trendColumns({ data, trendDegree }: CheckInput, order: Float64Array): Float64Array[] {
  const count = data.environment?.labels.length ?? 1;
  const columns: Float64Array[] = [];
  for (let e = 0; e < count; e++) {
    const own = Array.from(order, (_, i) => i).filter((i) => (data.environment?.of[i] ?? 0) === e);
    const low = Math.min(...own.map((i) => order[i]));
    const high = Math.max(...own.map((i) => order[i]));
    if (!(high > low)) continue;
    for (let degree = 1; degree <= trendDegree; degree++) {
      const column = new Float64Array(order.length);
      for (const i of own) column[i] = pow((2 * (order[i] - low)) / (high - low) - 1, degree);
      columns.push(column);
    }
  }
  return columns;
}
