import type { InnerFamily } from "../curves/family.ts";
import { joinResponse } from "../numeric/joinDesign.ts";
import type { CurveFit } from "./curveFit.ts";
import type { PreparedData } from "./fitData.ts";
import { fitPlateau } from "./fitPlateau.ts";
import { innerCoefficients, notEstimable, pack, packPolynomial } from "./packFit.ts";
import { solve, unit } from "./projectedSolve.ts";

/**
 * Exact least-squares fit of one of the five inner families with block effects and weights.
 *
 * Plateau families rise to their plateau (slope, curvature > 0) unless `anySlope`, which also admits falling ones.
 */
export function fitInner(family: InnerFamily, data: PreparedData, anySlope = false): CurveFit {
  const { design, y } = data;
  const m = design.levels.length;
  const needed = family === "flat" ? 1 : family === "linear" ? 2 : 3;
  if (m < needed) {
    const reason = `${family} needs at least ${needed} different densities; these plots have ${m}`;
    return notEstimable(family, data, "not-estimable", reason);
  }
  const dof = design.blocks + innerCoefficients[family].length - 1;
  if (design.nobs < dof) {
    const reason = `${family} with ${design.blocks} block(s) has ${dof} coefficients but there are only ${design.nobs} plots`;
    return notEstimable(family, data, "not-estimable", reason);
  }
  // Information left on the density after blocks, relative to what it would be without them.
  const floor = 1e-12 * design.blockWeight.reduce((sum, w) => sum + w, 0);
  if (family !== "flat" && design.uu < floor) {
    return notEstimable(
      family,
      data,
      "singular",
      "every block has only one density, so blocks and density cannot be told apart",
    );
  }
  const determinant = design.uu * design.vv - design.uv * design.uv;
  if (needed === 3 && determinant <= 1e-14 * design.uu * design.vv) {
    return notEstimable(
      family,
      data,
      "singular",
      "within blocks there are only two different densities, so a bend cannot be told from blocks",
    );
  }
  const response = joinResponse(design, y);
  switch (family) {
    case "flat":
      return pack(family, data, solve(data, response, []), null, null, []);
    case "linear":
    case "quadratic": {
      const columns = family === "linear" ? [unit(design)] : [unit(design), unit(design).map((u) => u * u)];
      return packPolynomial(family, data, solve(data, response, columns));
    }
    default:
      return fitPlateau(family, data, response, anySlope);
  }
}
