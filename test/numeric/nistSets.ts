import type { NonlinearProblem } from "../../src/numeric/levenbergMarquardt.ts";
import oracle from "../oracle/nist_linear.json" with { type: "json" };
import { textModel } from "./modelText.ts";

export interface LinearSet {
  readonly name: string;
  readonly degree_or_predictors: number;
  readonly intercept: boolean;
  readonly certified: {
    readonly parameters: number[];
    readonly standard_errors: number[];
    readonly residual_ss: number;
    readonly residual_df: number;
    readonly residual_standard_deviation: number;
  };
  readonly data: Readonly<Record<string, number[]>>;
}

/** The linear sets of the NIST Statistical Reference Datasets. */
export const linearSets = (oracle as unknown as { sets: LinearSet[] }).sets;

/** Columns of a linear set: powers of x, or the predictors it gives. */
export function linearDesign({ data, degree_or_predictors: degree, intercept }: LinearSet): number[][] {
  const predictors =
    "x" in data
      ? Array.from({ length: degree }, (_, k) => data["x"].map((x) => x ** (k + 1)))
      : Array.from({ length: degree }, (_, k) => data[`x${k + 1}`]);
  return intercept ? [data["y"].map(() => 1), ...predictors] : predictors;
}

/** A nonlinear set, or any model written as text, as the solver takes it. */
export function nonlinearProblem(
  model: string,
  p: number,
  x: readonly number[],
  y: readonly number[],
): NonlinearProblem {
  const { value, gradient } = textModel(model, p);
  const row = new Float64Array(p);
  return {
    y,
    mean: (theta, out) => out.set(x.map((xi) => value(xi, theta))),
    jacobian: (theta, columns) =>
      x.forEach((xi, i) => {
        gradient(xi, theta, row);
        for (let j = 0; j < p; j++) columns[j][i] = row[j];
      }),
  };
}
