import { check } from "../core/errors.ts";
import type { DispersionModel, LodgingData } from "./lodgingFit.ts";

/** With this many residual degrees of freedom the dispersion is estimated even where no two plots share a density. */
const ENOUGH_DOF = 8;

/**
 * The dispersion model asked for, or the default: "quasi" where the spread between plots can be judged, else "binomial".
 * What was decided and why is added to `notes`.
 *
 * @throws AnalysisError `invalid-option`, `not-offered`, `invalid-data`
 */
export function chooseDispersion(
  data: LodgingData,
  asked: DispersionModel | undefined,
  bias: "none" | "firth",
  dofResidual: number,
  notes: string[],
): DispersionModel {
  check(
    asked === undefined || asked === "binomial" || asked === "quasi" || asked === "beta-binomial",
    "invalid-option",
    `dispersion must be "binomial", "quasi" or "beta-binomial", got "${asked}"`,
  );
  if (asked === "beta-binomial") {
    check(
      data.examined !== null,
      "not-offered",
      "beta-binomial needs counts; shares without counts are fitted by quasi-likelihood",
    );
    check(
      [...data.lodged, ...data.examined].every(Number.isInteger),
      "invalid-data",
      "beta-binomial needs whole numbers of plants",
    );
    check(bias === "none", "not-offered", "bias-reduced estimates are offered for binomial and quasi dispersion only");
  }
  if (data.examined === null) {
    check(asked !== "binomial", "not-offered", "shares without counts have no binomial variance; use quasi");
    notes.push("Shares without counts: every plot has the same weight and the spread is estimated from the plots.");
    return "quasi";
  }
  const replicated = new Set(data.density).size < data.density.length;
  const judged = dofResidual >= 1 && (replicated || dofResidual >= ENOUGH_DOF);
  const chosen = asked ?? (judged ? "quasi" : "binomial");
  if (chosen === "quasi" && dofResidual < 1) {
    notes.push(
      "No residual degree of freedom: the spread between plots cannot be estimated, so binomial variances are used.",
    );
    return "binomial";
  }
  if (chosen === "binomial" && asked === undefined) {
    notes.push(
      "One plot per density: the spread between plots cannot be judged, and binomial variances are usually too small.",
    );
  }
  return chosen;
}
