import { checkShape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { Trial } from "../trial/trial.ts";
import { conditionalModes, modeBlocks } from "./conditionalModes.ts";
import { densityUnits } from "./densityUnits.ts";
import { kenwardRoger } from "./kenwardRoger.ts";
import { environmentCurves, meanCurves } from "./mixedCurves.ts";
import { mixedDataOf } from "./mixedData.ts";
import { type MixedData, type MixedOptions, type MixedResponseFit, mixedOptionsShape } from "./mixedResponse.ts";
import { remlStatus, varianceComponents } from "./remlFit.ts";
import { satterthwaite } from "./satterthwaite.ts";
import { type MixedSolution, solveMixedResponse } from "./solveMixedResponse.ts";
import { varianceParameters } from "./varianceParameters.ts";

/**
 * Fits one response curve to plots of several environments by restricted maximum likelihood.
 *
 * y = (b0 + u0_e) + (b1 + u1_e) z + (b2 + u2_e) z^2 + block + e, z = (density - centre) / scale, (u0, u1, u2) ~ N(0, G)
 * over environments e, blocks random within environments. Hybrids have fixed curves, a fixed shift, or random curves;
 * beside them a random level of every hybrid in every environment keeps their comparison honest. Plateau curves carry a
 * random level and a fixed shape; their join is found by exact profiling.
 *
 * Singular fits (a variance of zero, a correlation of one) are reduced along a stated path, reported in `path`: first the
 * parts with zero variance, then the correlations of the curvature; level and slope that move together exactly stay one
 * factor (status `singular`). Fixed effects and sigma are profiled out; cost is linear in plots and environments.
 *
 * @param data - a trial, or plots in parallel arrays without missing yields
 * @param options - see `MixedOptions`
 * @returns plain data; coefficients, their errors and the log-likelihood in density units
 * @throws AnalysisError `length-mismatch`, `invalid-data`, `invalid-option`, `not-offered`, `not-estimable`
 * @example
 * const density = [2, 3, 4, 5, 2, 3, 4, 5, 2, 3, 4, 5];
 * const yield_ = [7.1, 8.2, 8.4, 8.1, 5.2, 5.9, 6.3, 5.8, 9.0, 10.3, 10.2, 10.1];
 * const environment = ["A", "A", "A", "A", "B", "B", "B", "B", "C", "C", "C", "C"];
 * fitMixedResponse({ density, yield: yield_, environment }).status; // => "converged"
 *
 * Source: Laird & Ware (1982), Biometrics 38, 963-974; Patterson & Thompson (1971), Biometrika 58, 545-554.
 * Oracle: test/oracle/mixed/mixedDense.R and lme4.
 */
export function fitMixedResponse(data: MixedData | Trial, options: MixedOptions = {}): MixedResponseFit {
  checkShape(options, "options", mixedOptionsShape, "invalid-option");
  return describeMixed(solveMixedResponse(mixedDataOf(data), options), options.df ?? "satterthwaite");
}

/** A solution as plain data. */
export function describeMixed(solution: MixedSolution, df: "satterthwaite" | "kenward-roger"): MixedResponseFit {
  const { design, columns, structure, model, state, path, notes } = solution;
  const { status, message } = remlStatus(model);
  check(model.sigma2 > 0, "not-estimable", "the plots leave no residual variation");
  const small = (df === "kenward-roger" ? kenwardRoger(model) : null) ?? satterthwaite(model);
  const parameters = varianceParameters(model);
  const units = densityUnits(design, columns, model, small, state);
  const blocks = modeBlocks(model);
  const steps = path.length;
  return {
    schema: "standcurve/mixed-response/1",
    status: status === "converged" && steps > 1 ? "reduced" : status,
    message:
      steps > 1
        ? `${path[0].outcome}. Kept after ${steps - 1} step${steps > 2 ? "s" : ""}: ${path[steps - 1].random}`
        : message,
    notes,
    path,
    curve: design.curve,
    hybrids: design.hybrids,
    random: structure.environment,
    logLikelihood: units.logLikelihood,
    nobs: design.n,
    coefficients: units.coefficients,
    standardErrors: units.standardErrors,
    dof: units.dof,
    dofMethod: small.method,
    vcov: units.vcov,
    varianceComponents: varianceComponents(model),
    sigma: Math.sqrt(model.sigma2),
    scaling: design.scaling,
    densityRange: [design.densities[0], design.densities[design.densities.length - 1]],
    densities: design.densities,
    join: state.join,
    joinProfile: state.profile,
    ...meanCurves(design, columns, model, small, parameters, state),
    ...environmentCurves(design, columns, structure, model, blocks, state),
    modes: conditionalModes(model, blocks),
  };
}
