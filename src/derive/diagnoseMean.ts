import { log, square } from "../core/elementary.ts";
import { lackOfFit, pureError } from "../fit/lackOfFit.ts";
import { fUpper } from "../numeric/distributions.ts";
import { leastSquares } from "../numeric/leastSquares.ts";
import { type Check, type CheckInput, finished, notTested } from "./diagnoseCheck.ts";
import type { Place } from "./influenceDecision.ts";

/** Columns of blocks and of densities but the first: the density-as-factor model. */
export function factorColumns({ data }: Pick<CheckInput, "data">): number[][] {
  const { block, design } = data;
  const blocks = Array.from({ length: design.blocks }, (_, b) => Array.from(block, (k) => (k === b ? 1 : 0)));
  const densities = Array.from({ length: design.levels.length - 1 }, (_, l) =>
    Array.from(design.level, (k) => (k === l + 1 ? 1 : 0)),
  );
  return [...blocks, ...densities];
}

/**
 * Residuals against density: F test of lack of fit. Its effect is told by the density means themselves: where they are highest.
 *
 * Source: Draper & Smith (1998), Applied Regression Analysis, 3rd ed., chapter 2.
 */
export function densityCheck(input: CheckInput): Check {
  const { data, fit, alpha } = input;
  const test = lackOfFit(fit, pureError(data));
  if (test.kind === "untestable") return notTested("mean-by-density", `residuals against density: ${test.reason}`);
  const { levels } = data.design;
  const { coef, status } = leastSquares(factorColumns(input), data.y, { weight: data.weight });
  const means = [0, ...coef.subarray(data.design.blocks)];
  const best = means.indexOf(Math.max(...means));
  const kind = best === 0 ? "lower-edge" : best === levels.length - 1 ? "upper-edge" : "interior";
  const top: Place = { kind, density: levels[best] };
  return finished(
    "mean-by-density",
    { name: "F", value: test.f, dof: test.dof },
    test.p,
    alpha,
    test.p < alpha
      ? `the ${fit.family} curve misses the density means by more than plot scatter explains`
      : `the ${fit.family} curve runs through the density means within plot scatter`,
    status === "converged" ? input.effect("read off the density means", { agronomic: top }) : null,
  );
}

/**
 * Residuals against fitted values: Tukey's one-degree-of-freedom test in the model of blocks and densities. A curved pattern
 * asks for logarithms; its effect is the optimum fitted to log yields, where the same density is best.
 *
 * Source: Tukey (1949), Biometrics 5, 232-242.
 */
export function fittedCheck(input: CheckInput): Check {
  const { data, alpha } = input;
  const name = "mean-by-fitted";
  if (data.design.blocks < 2) {
    return notTested(
      name,
      "residuals against fitted values: with one block there is nothing beside the densities to compare",
    );
  }
  const columns = factorColumns(input);
  const weight = data.weight;
  const additive = leastSquares(columns, data.y, { weight });
  const centre = data.y.reduce((sum, value) => sum + value, 0) / data.y.length;
  const fitted = data.y.map((value, i) => value - additive.residuals[i]);
  const squares = fitted.map((value) => square(value - centre));
  const dof = data.y.length - additive.rank - 1;
  if (additive.status !== "converged" || dof < 1) {
    return notTested(name, "residuals against fitted values: too few plots beside blocks and densities");
  }
  const wider = leastSquares([...columns, squares], data.y, { weight });
  if (wider.status !== "converged") {
    return notTested(name, "residuals against fitted values: blocks and densities leave no room for a bend");
  }
  const gain = Math.max(additive.rss - wider.rss, 0);
  const f = gain / (wider.rss / dof);
  const p = fUpper(f, 1, dof);
  const positive = data.y.every((value) => value > 0);
  const onLogs = positive ? input.again({ yield: data.y.map((value) => centre * log(value / centre)) }) : null;
  return finished(
    name,
    { name: "F", value: f, dof: [1, dof] },
    p,
    alpha,
    p < alpha ? "block differences change with the yield level" : "block differences are the same at all yield levels",
    positive
      ? input.effect("fitted to log yields", onLogs && { family: onLogs.family, agronomic: onLogs.agronomic })
      : null,
  );
}
