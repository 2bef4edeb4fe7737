import { basisShift } from "./densityUnits.ts";
import type { CurveState } from "./mixedCurves.ts";
import { columnValues, type FixedColumn, fixedColumns, type MixedDesign, mixedDesign } from "./mixedDesign.ts";
import { fitPlateau } from "./mixedPlateau.ts";
import type { MixedData, MixedOptions, RandomPart, ReductionStep } from "./mixedResponse.ts";
import { reduceStructure, type Structure, structureTerms, structureWords } from "./mixedStructure.ts";
import { remlStatus, varianceComponents } from "./remlFit.ts";
import { type RemlModel, solveReml } from "./remlModel.ts";

/** A fitted mixed response with its machinery; `fitMixedResponse` makes plain data of it. */
export interface MixedSolution {
  readonly design: MixedDesign;
  readonly columns: readonly FixedColumn[];
  readonly structure: Structure;
  readonly model: RemlModel;
  readonly state: CurveState;
  readonly path: readonly ReductionStep[];
  readonly notes: readonly string[];
}

const PART_OF_POWER: readonly RandomPart[] = ["intercept", "slope", "curvature"];

/** The random structure the options ask for. */
export function initialStructure(design: MixedDesign, options: MixedOptions): Structure {
  const parts = design.curve === "quadratic" ? 3 : 2;
  return {
    environment: design.random,
    together: options.covariance === "diagonal" ? [] : design.random,
    hybridCurves: design.hybrids === "random" ? PART_OF_POWER.slice(0, parts) : [],
    block: design.block !== null,
    mainPlot: design.mainPlot !== null,
    hybridByEnvironment: design.hybridByEnvironment,
  };
}

/** Fits the model asked for and reduces it while it is singular. */
export function solveMixedResponse(data: MixedData, options: MixedOptions): MixedSolution {
  const design = mixedDesign(data, options);
  const columns = fixedColumns(design);
  const plateau = design.curve === "linear-plateau" || design.curve === "quadratic-plateau";
  const basis = polynomialBasis(design);
  let structure = initialStructure(design, options);
  const path: ReductionStep[] = [];
  const solve = (s: Structure): { model: RemlModel; state: CurveState } =>
    plateau
      ? fitPlateau(design, columns, s)
      : { model: solveMixed(design, columns, basis, s), state: { basis, join: null, tangent: null, profile: null } };
  let fitted = solve(structure);
  for (;;) {
    const { status, message } = remlStatus(fitted.model);
    const step = {
      random: structureWords(structure),
      logLikelihood: fitted.model.logLikelihood + basisShift(design, columns, fitted.state),
      varianceComponents: varianceComponents(fitted.model),
    };
    const next =
      status === "singular" && options.onSingular !== "keep" ? reduceStructure(structure, fitted.model) : null;
    if (next === null) {
      path.push({ ...step, outcome: `kept: ${message}` });
      break;
    }
    path.push({ ...step, outcome: `${message}; ${next.words}` });
    structure = next.structure;
    fitted = solve(structure);
  }
  const notes = plateau ? [...design.notes, ...joinNotes(design, fitted.state)] : design.notes;
  return { design, columns, structure, model: fitted.model, state: fitted.state, path, notes };
}

/** 1, z, z^2 as far as the curve needs them. */
export function polynomialBasis(design: MixedDesign): Float64Array[] {
  const { centre, scale } = design.scaling;
  const z = design.x.map((x) => (x - centre) / scale);
  const ones = new Float64Array(design.n).fill(1);
  return design.curve === "quadratic" ? [ones, z, z.map((v) => v * v)] : [ones, z];
}

/** One REML fit of the polynomial mixed model with the given random structure. */
export function solveMixed(
  design: MixedDesign,
  columns: readonly FixedColumn[],
  basis: readonly Float64Array[],
  structure: Structure,
  starts?: readonly number[],
): RemlModel {
  return solveReml({
    ...(starts === undefined ? {} : { starts }),
    y: design.y,
    x: columnValues(design, columns, basis),
    names: columnNames(design, columns),
    terms: structureTerms(design, structure, basis),
    ...(design.weight === undefined ? {} : { weights: design.weight }),
  });
}

/** Names of the fixed columns on the z scale, for error messages. */
function columnNames(design: MixedDesign, columns: readonly FixedColumn[]): string[] {
  return columns.map(
    ({ power, hybrid }) => `${hybrid === null ? "" : `${design.hybridLabels[hybrid]}: `}${PART_OF_POWER[power]}`,
  );
}

/** What a reader should know about where a join came to lie. */
function joinNotes({ densities }: MixedDesign, { join, tangent }: CurveState): string[] {
  if (join === null) return [];
  const highest = densities[densities.length - 1];
  if (tangent === null)
    return ["only the lowest density lies below the plateau: any join up to the second density fits alike"];
  if (join > highest)
    return ["the join lies above the highest tested density: inside the range the curve is a plain quadratic"];
  if (join === highest) return ["the join is the highest tested density: no plateau was reached inside the range"];
  return [];
}
