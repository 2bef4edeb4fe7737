import type { MixedDesign } from "./mixedDesign.ts";
import type { RandomPart } from "./mixedResponse.ts";
import type { RandomTerm } from "./randomTerm.ts";
import type { RemlModel } from "./remlModel.ts";

/** What varies at random. */
export interface Structure {
  /** Random parts of an environment's curve. */
  readonly environment: readonly RandomPart[];
  /** Those of them that are correlated; the others are independent. */
  readonly together: readonly RandomPart[];
  /** Random parts of a hybrid's curve (correlated while there are several). */
  readonly hybridCurves: readonly RandomPart[];
  readonly block: boolean;
  readonly mainPlot: boolean;
  /** Independent random parts of a hybrid's curve in one environment. */
  readonly hybridByEnvironment: readonly RandomPart[];
}

export const ENVIRONMENT = "environment";
export const ENVIRONMENT_INDEPENDENT = "environment, independent part";
export const BLOCK = "block in environment";
export const MAIN_PLOT = "main plot in block";
export const HYBRID = "hybrid";
export const HYBRID_IN_ENVIRONMENT = "hybrid in environment";

const POWER: Record<RandomPart, number> = { intercept: 0, slope: 1, curvature: 2 };

/** The random terms of a structure. */
export function structureTerms(design: MixedDesign, s: Structure, basis: readonly Float64Array[]): RandomTerm[] {
  const terms: RandomTerm[] = [];
  const columns = (parts: readonly RandomPart[]): Pick<RandomTerm, "columns" | "columnNames"> => ({
    columns: parts.map((part) => basis[POWER[part]]),
    columnNames: parts,
  });
  const correlated = s.environment.filter((part) => s.together.includes(part));
  const alone = s.environment.filter((part) => !s.together.includes(part));
  if (correlated.length > 0) terms.push({ name: ENVIRONMENT, group: design.environment, ...columns(correlated) });
  if (alone.length > 0) {
    const name = correlated.length > 0 ? ENVIRONMENT_INDEPENDENT : ENVIRONMENT;
    terms.push({ name, group: design.environment, ...columns(alone), structure: "diagonal" });
  }
  if (s.block && design.block !== null) terms.push({ name: BLOCK, group: design.block });
  if (s.mainPlot && design.mainPlot !== null) terms.push({ name: MAIN_PLOT, group: design.mainPlot });
  if (design.hybrid !== null) {
    const { hybrid } = design;
    if (s.hybridByEnvironment.length > 0) {
      const group = design.environment.map((e, i) => `${e} / ${hybrid[i]}`);
      terms.push({ name: HYBRID_IN_ENVIRONMENT, group, ...columns(s.hybridByEnvironment), structure: "diagonal" });
    }
    if (s.hybridCurves.length > 0) {
      terms.push({ name: HYBRID, group: hybrid, ...columns(s.hybridCurves) });
    }
  }
  return terms;
}

/**
 * The next simpler structure after a singular fit, or null when nothing singular is left to take away.
 *
 * A part whose variance is zero is left out (highest power first). With perfect correlation among three parts the
 * curvature is made independent of level and slope. Two parts that move together exactly are kept as one factor: the fit
 * stays `singular` and is usable, only their correlation is not known to be below one.
 */
export function reduceStructure(s: Structure, model: RemlModel): { structure: Structure; words: string } | null {
  const { data, optimum } = model;
  for (const t of optimum.singularTerms) {
    const { name, columnNames, width } = data.terms[t];
    const zero = columnNames.filter((_, a) => optimum.point.gamma[t][a * (width + 1)] <= 1e-10);
    const highest = zero[zero.length - 1] as RandomPart | undefined;
    if (name === BLOCK) return { structure: { ...s, block: false }, words: "blocks are left out" };
    if (name === MAIN_PLOT) return { structure: { ...s, mainPlot: false }, words: "main plots are left out" };
    if (name === HYBRID_IN_ENVIRONMENT) {
      const rest = s.hybridByEnvironment.filter((part) => part !== highest);
      return {
        structure: { ...s, hybridByEnvironment: rest },
        words: `the random ${highest} of a hybrid in an environment is left out`,
      };
    }
    const hybrid = name === HYBRID;
    const parts = hybrid ? s.hybridCurves : s.environment;
    if (highest !== undefined) {
      const rest = parts.filter((part) => part !== highest);
      const next = hybrid ? { ...s, hybridCurves: rest } : { ...s, environment: rest };
      return { structure: next, words: `the random ${highest} of ${hybrid ? "hybrids" : "environments"} is left out` };
    }
    const correlated = hybrid ? parts : parts.filter((part) => s.together.includes(part));
    // Level and slope that move together exactly stay so: taking the correlation away would hide how response and level go together.
    if (hybrid || correlated.length <= 2) continue;
    const freed = correlated[correlated.length - 1];
    const together = correlated.filter((part) => part !== freed);
    return { structure: { ...s, together }, words: `the random ${freed} is made independent of the rest` };
  }
  return null;
}

/** The structure in one line. */
export function structureWords(s: Structure): string {
  const words: string[] = [];
  const correlated = s.environment.filter((part) => s.together.includes(part));
  const alone = s.environment.filter((part) => !s.together.includes(part));
  if (correlated.length > 1) words.push(`correlated ${correlated.join(", ")} by environment`);
  else if (correlated.length === 1) alone.unshift(...correlated);
  if (alone.length > 0)
    words.push(`${alone.length > 1 || words.length > 0 ? "independent " : ""}${alone.join(", ")} by environment`);
  if (s.block) words.push("block in environment");
  if (s.mainPlot) words.push("main plot in block");
  if (s.hybridByEnvironment.length > 0) words.push(`${s.hybridByEnvironment.join(", ")} by hybrid in environment`);
  if (s.hybridCurves.length > 0) words.push(`${s.hybridCurves.join(", ")} by hybrid`);
  return words.length === 0 ? "nothing but the plots" : words.join("; ");
}
