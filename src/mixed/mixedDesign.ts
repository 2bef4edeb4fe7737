import { check } from "../core/errors.ts";
import type { HybridEffect, MixedCurve, MixedData, MixedOptions, RandomPart, Scaling } from "./mixedResponse.ts";
import { indexLevels } from "./randomTerm.ts";

/** One fixed-effect column: its power of z (1 and 2; 0 is a level) and the hybrid it belongs to. */
export interface FixedColumn {
  readonly power: 0 | 1 | 2;
  /** Index into `hybridLabels`; null when shared by all. */
  readonly hybrid: number | null;
}

/** The data of a mixed response after checking, with labels turned to text and nesting spelt out. */
export interface MixedDesign {
  readonly n: number;
  readonly x: Float64Array;
  readonly y: Float64Array;
  readonly weight: ArrayLike<number> | undefined;
  readonly environment: readonly string[];
  readonly environmentLabels: readonly string[];
  readonly environmentIndex: Int32Array;
  /** "environment / block", or null when there are no blocks or every environment has one. */
  readonly block: readonly string[] | null;
  readonly mainPlot: readonly string[] | null;
  readonly hybrid: readonly string[] | null;
  readonly hybridLabels: readonly string[];
  readonly hybridIndex: Int32Array;
  readonly densities: readonly number[];
  readonly scaling: Scaling;
  readonly curve: MixedCurve;
  readonly hybrids: HybridEffect;
  readonly hybridByEnvironment: readonly RandomPart[];
  readonly random: readonly RandomPart[];
  readonly notes: string[];
}

const PARTS: Record<MixedCurve, readonly RandomPart[]> = {
  linear: ["intercept", "slope"],
  quadratic: ["intercept", "slope", "curvature"],
  "linear-plateau": ["intercept"],
  "quadratic-plateau": ["intercept"],
};

/** From this many hybrids on they are a sample rather than a list. */
const MANY_HYBRIDS = 10;

/** Below this many environments only their level is let vary by default. */
const FEW_ENVIRONMENTS = 5;

/**
 * Checks the arrays and options of a mixed response.
 *
 * @throws AnalysisError `length-mismatch`, `invalid-data`, `invalid-option`, `not-estimable`
 */
export function mixedDesign(data: MixedData, options: MixedOptions): MixedDesign {
  const n = data.density.length;
  check(n > 0, "invalid-data", "density is empty; give one value per plot");
  const lengths = { yield: data.yield, environment: data.environment, block: data.block, hybrid: data.hybrid };
  for (const [name, column] of Object.entries({ ...lengths, mainPlot: data.mainPlot, weight: data.weight })) {
    if (column === undefined) continue;
    check(column.length === n, "length-mismatch", `density has ${n} values but ${name} has ${column.length}`);
  }
  const x = finite(data.density, "density");
  const y = finite(data.yield, "yield");
  const curve = options.curve ?? "quadratic";
  check(curve in PARTS, "invalid-option", `curve must be one of ${Object.keys(PARTS).join(", ")}, got "${curve}"`);
  const densities = [...new Set(x)].sort((a, b) => a - b);
  const needed = curve === "linear" ? 2 : 3;
  check(
    densities.length >= needed,
    "not-estimable",
    `a ${curve} curve needs ${needed} tested densities, got ${densities.length}`,
  );

  const environment = Array.from(data.environment, String);
  const { levels: environmentLabels, index: environmentIndex } = indexLevels(environment);
  const notes: string[] = [];
  const block = nested(data.block, environment);
  const blockUseful = block !== null && new Set(block).size > environmentLabels.length;
  const mainPlot = data.mainPlot === undefined ? null : nested(data.mainPlot, block ?? environment);
  const hybrid = data.hybrid === undefined ? null : Array.from(data.hybrid, String);
  const { levels: hybridLabels, index: hybridIndex } = indexLevels(hybrid ?? new Array<string>(n).fill(""));
  const several = hybrid !== null && hybridLabels.length > 1;
  const hybrids = several ? (options.hybrids ?? automaticHybrids(hybridLabels.length, curve, notes)) : "pooled";
  const plateau = curve === "linear-plateau" || curve === "quadratic-plateau";
  check(
    !(plateau && (hybrids === "curves" || hybrids === "random")),
    "not-offered",
    `a ${curve} mixed model carries hybrids as "level" or "pooled", not "${hybrids}": its shape is common to all`,
  );

  const pairs = several ? new Set(environment.map((e, i) => `${e}\u0000${hybridIndex[i]}`)).size : 0;
  const repeats = pairs > environmentLabels.length && pairs < n && environmentLabels.length > 1;
  const asked = options.hybridByEnvironment;
  check(
    asked === undefined || Array.isArray(asked),
    "invalid-option",
    "hybridByEnvironment must be a list of random parts",
  );
  const hybridByEnvironment =
    !several || hybrids === "pooled" ? [] : (asked ?? (repeats ? (["intercept"] as const) : []));
  for (const part of hybridByEnvironment) {
    check(
      PARTS[curve].includes(part),
      "invalid-option",
      `random part "${part}" is not one of ${PARTS[curve].join(", ")} of a ${curve} curve`,
    );
  }

  const random = randomParts(partList(options.random), curve, environmentLabels.length, notes);
  const low = densities[0];
  const high = densities[densities.length - 1];
  const scaling = options.scaling ?? { centre: (low + high) / 2, scale: (high - low) / 2 };
  check(
    Number.isFinite(scaling.centre) && Number.isFinite(scaling.scale) && scaling.scale > 0,
    "invalid-option",
    `scaling needs a finite centre and a scale > 0, got ${scaling.centre} and ${scaling.scale}`,
  );
  return {
    n,
    x,
    y,
    weight: data.weight,
    environment,
    environmentLabels,
    environmentIndex,
    block: blockUseful ? block : null,
    mainPlot,
    hybrid: several ? hybrid : null,
    hybridLabels: several ? hybridLabels : [],
    hybridIndex,
    densities,
    scaling,
    curve,
    hybrids,
    hybridByEnvironment,
    random,
    notes,
  };
}

function automaticHybrids(count: number, curve: MixedCurve, notes: string[]): HybridEffect {
  if (curve === "linear-plateau" || curve === "quadratic-plateau") {
    notes.push("hybrids shift the level of one common plateau curve");
    return "level";
  }
  if (count >= MANY_HYBRIDS) {
    notes.push(
      `${count} hybrids are treated as a sample (random curves around their mean): with ${MANY_HYBRIDS} or more, each borrows from the rest`,
    );
    return "random";
  }
  notes.push(
    `${count} hybrids have a fixed curve each: fewer than ${MANY_HYBRIDS} are too few to estimate how hybrids vary`,
  );
  return "curves";
}

/** "slope" stands for ["intercept", "slope"]. */
function partList(asked: MixedOptions["random"]): readonly RandomPart[] | undefined {
  if (typeof asked !== "string") return asked;
  const all: readonly RandomPart[] = ["intercept", "slope", "curvature"];
  return all.includes(asked) ? all.slice(0, all.indexOf(asked) + 1) : [asked];
}

function randomParts(
  asked: readonly RandomPart[] | undefined,
  curve: MixedCurve,
  environments: number,
  notes: string[],
): readonly RandomPart[] {
  const possible = PARTS[curve];
  if (asked !== undefined) {
    for (const part of asked) {
      check(
        possible.includes(part),
        "invalid-option",
        `random part "${part}" is not one of ${possible.join(", ")} of a ${curve} curve`,
      );
    }
  }
  if (environments === 1) {
    notes.push(
      "one environment: how environments differ cannot be seen, and every interval holds for that environment only",
    );
    return [];
  }
  if (asked !== undefined) return possible.filter((part) => asked.includes(part));
  if (environments >= FEW_ENVIRONMENTS) return possible;
  notes.push(
    `${environments} environments are too few to see how slopes vary between them; only their level is random`,
  );
  return ["intercept"];
}

/** "parent / label", so that equal labels under two parents are two levels; null when there is no label. */
function nested(labels: ArrayLike<string | number> | undefined, parent: readonly string[]): string[] | null {
  return labels === undefined ? null : Array.from(labels, (label, i) => `${parent[i]} / ${label}`);
}

function finite(values: ArrayLike<number>, name: string): Float64Array {
  const out = Float64Array.from(values);
  const bad = out.findIndex((v) => !Number.isFinite(v));
  check(bad < 0, "invalid-data", `${name} must be finite numbers; ${name}[${bad}] is ${values[bad]}`);
  return out;
}

/** The fixed-effect columns of a design: shared or per hybrid, by rising power. */
export function fixedColumns(design: MixedDesign): FixedColumn[] {
  const powers: (0 | 1 | 2)[] = design.curve === "quadratic" ? [0, 1, 2] : [0, 1];
  const each = design.hybridLabels.map((_, h) => h);
  if (design.hybrids === "curves") return each.flatMap((hybrid) => powers.map((power) => ({ power, hybrid })));
  if (design.hybrids === "level") {
    const levels = each.map((hybrid) => ({ power: 0 as const, hybrid }));
    return [...levels, ...powers.slice(1).map((power) => ({ power, hybrid: null }))];
  }
  return powers.map((power) => ({ power, hybrid: null }));
}

/** Values of the fixed columns: 1, z, z^2, or for a plateau curve 1 and minus the distance below the join. */
export function columnValues(
  design: MixedDesign,
  columns: readonly FixedColumn[],
  basis: readonly Float64Array[],
): Float64Array[] {
  return columns.map(({ power, hybrid }) => {
    if (hybrid === null) return basis[power];
    return basis[power].map((v, i) => (design.hybridIndex[i] === hybrid ? v : 0));
  });
}
