import type { Economics } from "../core/economics.ts";
import { fitMixedResponse } from "../mixed/fitMixedResponse.ts";
import { type MixedOptimum, mixedOptimum } from "../mixed/mixedOptimum.ts";
import type { MixedResponseFit } from "../mixed/mixedResponse.ts";
import { predictResponse } from "../mixed/predictResponse.ts";
import { responseAtYieldGoal, responseByYieldClass, yieldLevels } from "../mixed/responseAtYieldGoal.ts";
import { type GoalLine, goalLineFrom } from "../recommend/goalCurve.ts";
import type { Plot } from "../trial/trial.ts";
import type {
  AcrossEnvironments,
  EnvironmentResponse,
  GoalAnswer,
  GoalRefusal,
  NewEnvironment,
  YieldClasses,
} from "./environmentsResult.ts";
import { goalLevels } from "./goalLevels.ts";
import { mixedPlots } from "./mixedPlots.ts";
import { mixedReport } from "./mixedReport.ts";
import type { AnalyzeSettings } from "./options.ts";
import type { OnAxes } from "./result.ts";
import { unlessRefused, type Withheld, withheld } from "./withheld.ts";

/**
 * From this many environments on they are a sample of those to come. Below, a variance between them would rest on three
 * degrees of freedom or fewer, and its interval would reach from next to nothing to several times itself.
 */
export const FEWEST_RANDOM_ENVIRONMENTS = 5;

/** From this many environments on they are cut into three classes of yield level; below, into two. */
const FEWEST_FOR_THREE_CLASSES = 6;

/** Points of the curve expected at a yield goal. */
const CURVE_POINTS = 21;

export interface AcrossInput {
  readonly plots: readonly Plot[];
  /** Powers of density that the plots tell apart inside blocks. */
  readonly terms: number;
  readonly settings: AnalyzeSettings;
  readonly between: readonly [number, number] | null;
  readonly prices: Economics | null;
  readonly axes: (density: number | null) => OnAxes;
}

/** The automatic choice between fixed and random environments for one hybrid, and what random ones say. */
export function acrossEnvironments(input: AcrossInput): AcrossEnvironments {
  const { plots, terms, settings } = input;
  const environments = new Set(plots.map((plot) => plot.environment)).size;
  const { treatment, reason } = treatmentOf(environments);
  const fit =
    treatment !== "random"
      ? withheld(reason)
      : terms === 0
        ? withheld("the plots of a block do not differ in density, so there is no response to follow")
        : unlessRefused(() => fitMixedResponse(mixedPlots(plots), { curve: terms < 2 ? "linear" : "quadratic" }));
  const usable =
    "kind" in fit || fit.status !== "iteration-limit"
      ? fit
      : withheld("the search for the variances between environments did not settle");
  return {
    environments,
    treatment,
    reason,
    response: "kind" in usable ? usable : responseOf(usable, input),
    yieldGoal: settings.yieldGoal === null ? null : goalOf(usable, settings.yieldGoal, input),
    goalLevels:
      settings.yieldGoal === null || "kind" in usable
        ? []
        : goalLevels(usable, settings.yieldGoal, goalQuestions(usable, input), input.axes),
  };
}

function treatmentOf(count: number): Pick<AcrossEnvironments, "treatment" | "reason"> {
  if (count <= 1)
    return {
      treatment: "single",
      reason: "1 environment: how the response varies between environments cannot be seen",
    };
  if (count < FEWEST_RANDOM_ENVIRONMENTS) {
    return {
      treatment: "fixed",
      reason: `${count} environments: too few to estimate how environments vary (${FEWEST_RANDOM_ENVIRONMENTS} are needed), so they are fixed and the pooled curve speaks for them alone`,
    };
  }
  return {
    treatment: "random",
    reason: `${count} environments: they are a sample of those to come, so they are random`,
  };
}

function responseOf(fit: MixedResponseFit, input: AcrossInput): EnvironmentResponse {
  const { settings } = input;
  const { level } = settings;
  const asked = questions(fit, input);
  const best = mixedOptimum(fit, { ...asked, level });
  const { referenceDensity, levels } = yieldLevels(fit);
  const seen = levels.map((one) => one.level);
  return {
    kind: "estimated",
    curve: fit.curve as EnvironmentResponse["curve"],
    nobs: fit.nobs,
    status: fit.status,
    statusWords: statusWords(fit),
    path: fit.path.map(({ random, logLikelihood, outcome }) => ({ random, logLikelihood, outcome })),
    logLikelihood: fit.logLikelihood,
    coefficients: Object.entries(fit.coefficients).map(([name, estimate]) => ({
      name,
      estimate,
      standardError: fit.standardErrors[name],
      dof: fit.dof[name],
    })),
    varianceComponents: fit.varianceComponents,
    scaling: fit.scaling,
    agronomic: mixedReport(best.agronomic, input.axes),
    economic: best.economic === null ? null : mixedReport(best.economic, input.axes),
    flex: best.flex,
    newEnvironment: newEnvironment(fit, best, level),
    referenceDensity,
    observedLevels: [Math.min(...seen), Math.max(...seen)],
    yieldClasses: classesOf(fit, input),
    goalLine: goalLineOf(fit),
    notes: fit.notes,
  };
}

/** Prices and reference densities, where the tested range holds them. */
function questions(
  fit: MixedResponseFit,
  { prices, between }: AcrossInput,
): { prices?: Economics; between?: readonly [number, number] } {
  const inside = between !== null && between[0] >= fit.densityRange[0] && between[1] <= fit.densityRange[1];
  return { ...(prices === null ? {} : { prices }), ...(inside ? { between } : {}) };
}

function statusWords({ status, path, random }: MixedResponseFit): string {
  if (status === "converged")
    return "level and shape of the response vary between environments, and how much is well determined";
  if (status === "singular")
    return "level and shape vary between environments exactly together as far as these data can tell; how closely they really go together is uncertain";
  const steps = path.length - 1;
  const left =
    random.length > 1
      ? "the response varies between environments in fewer ways than were looked for"
      : random.length === 1
        ? "environments differ in yield level only; their responses to density look alike beyond the scatter of the plots"
        : "environments do not differ beyond the scatter of the plots";
  return `${left} (${steps} ${steps === 1 ? "part was" : "parts were"} left out as not told from zero)`;
}

function newEnvironment(fit: MixedResponseFit, best: MixedOptimum, level: number): NewEnvironment | Withheld {
  const at = [
    { at: "agronomic" as const, density: best.agronomic.density },
    ...(best.economic === null ? [] : [{ at: "economic" as const, density: best.economic.density }]),
  ];
  const predicted = predictResponse(fit, { density: at.map(({ density }) => density), level });
  if (predicted.withheld !== null) return withheld(predicted.withheld);
  const yields = predicted.rows.flatMap((row, i) =>
    row.newEnvironment === null
      ? []
      : [
          {
            ...at[i],
            yield: row.yield,
            interval: {
              lower: row.newEnvironment.lower,
              upper: row.newEnvironment.upper,
              lowerOpen: false,
              upperOpen: false,
              level,
              method: "new-environment",
            },
            dof: row.newEnvironment.dof,
          },
        ],
  );
  return yields.length === 0
    ? withheld("how well the variance between environments is known cannot be worked out")
    : { kind: "predicted", yields };
}

function goalLineOf(fit: MixedResponseFit): GoalLine | null {
  const line = goalLineFrom(fit, "");
  return "reason" in line ? null : line;
}

function classesOf(fit: MixedResponseFit, input: AcrossInput): YieldClasses | Withheld {
  const count = fit.environments.length;
  const classes = responseByYieldClass(fit, {
    ...questions(fit, input),
    level: input.settings.level,
    classes: count < FEWEST_FOR_THREE_CLASSES ? 2 : 3,
  });
  const refused = classes.find(({ response }) => response.kind === "refused");
  if (refused?.response.kind === "refused") return withheld(refused.response.reason);
  return {
    kind: "classes",
    classes: classes.flatMap(({ label, environments, meanLevel, response }) =>
      response.kind === "refused"
        ? []
        : [
            {
              label,
              environments,
              meanLevel,
              agronomic: mixedReport(response.agronomic, input.axes),
              economic: response.economic === null ? null : mixedReport(response.economic, input.axes),
            },
          ],
    ),
  };
}

/** What is asked at every yield goal. */
function goalQuestions(fit: MixedResponseFit, input: AcrossInput) {
  const { level, extrapolateYieldGoal } = input.settings;
  const [low, high] = fit.densityRange;
  return {
    ...questions(fit, input),
    level,
    extrapolate: extrapolateYieldGoal,
    densities: Array.from({ length: CURVE_POINTS }, (_, i) => low + ((high - low) * i) / (CURVE_POINTS - 1)),
  };
}

function goalOf(fit: MixedResponseFit | Withheld, yieldGoal: number, input: AcrossInput): GoalAnswer | GoalRefusal {
  if ("kind" in fit) return { kind: "refused", yieldGoal, reason: fit.reason, observedLevels: null };
  const answer = responseAtYieldGoal(fit, { ...goalQuestions(fit, input), yieldGoal });
  if (answer.kind === "refused") return answer;
  const { kind, referenceDensity, extrapolated, observedLevels, curve, slopePerYield, flex, notes } = answer;
  return {
    kind,
    yieldGoal,
    referenceDensity,
    extrapolated,
    observedLevels,
    curve,
    slopePerYield,
    agronomic: mixedReport(answer.agronomic, input.axes),
    economic: answer.economic === null ? null : mixedReport(answer.economic, input.axes),
    flex,
    notes,
  };
}
