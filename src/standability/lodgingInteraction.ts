import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { fitBinomial } from "../fit/fitBinomial.ts";
import { binomialLinks } from "../fit/fitBinomialLinks.ts";
import { chiSquareUpper, fUpper } from "../numeric/distributions.ts";
import { norm } from "../numeric/householder.ts";
import { numberBlocks } from "./numberBlocks.ts";
import { type LodgingInput, lodgingInputShape, readLodging } from "./readLodging.ts";

/** Counts per plot with the group (hybrid, or date of count) of each. */
export interface LodgingGroups extends LodgingInput {
  readonly group: ArrayLike<string | number>;
}

/** What `LodgingGroups` must look like. */
export const lodgingGroupsShape: { readonly [property: string]: Shape } = { ...lodgingInputShape, group: "labels" };

export interface LodgingInteractionOptions {
  readonly link?: "logit" | "cloglog";
  /** Default "quasi" when residual degrees of freedom are left. */
  readonly dispersion?: "binomial" | "quasi";
}

/** What `LodgingInteractionOptions` must look like. */
export const lodgingInteractionOptionsShape: { readonly [property: string]: Shape } = {
  link: "text?",
  dispersion: "text?",
};

/** Do groups (hybrids, dates) respond to density alike? JSON-safe. */
export interface LodgingInteraction {
  readonly schema: "standcurve/lodging-interaction/1";
  readonly status: "converged" | "separation" | "singular" | "iteration-limit";
  /** Test of group x density: one slope per group against one common slope. */
  readonly interaction: DevianceTest | null;
  /** Test of group at a common slope. */
  readonly group: DevianceTest | null;
  /** Test of density at a common slope. */
  readonly density: DevianceTest | null;
  /** Slope of each group from the larger model, link scale per unit of density. */
  readonly slopes: readonly { readonly group: string; readonly slope: number; readonly standardError: number }[];
  readonly commonSlope: { readonly slope: number; readonly standardError: number } | null;
  readonly dispersion: number | null;
  readonly dofResidual: number;
  readonly note: string | null;
}

export interface DevianceTest {
  /** F when the dispersion is estimated, else chi-square. */
  readonly statistic: number;
  readonly dof1: number;
  readonly dof2: number | null;
  readonly pValue: number;
}

/**
 * Analysis of deviance for hybrid x density or date x density: do the lodging curves of the groups share one slope?
 *
 * Models on the link scale, blocks in all of them: block + group + density, and block + group + one slope per group. The drop
 * of deviance, over its degrees of freedom and over the dispersion of the larger model, is referred to F.
 *
 * Dates of one trial count the same plots again; such counts are not independent, and the test for dates is a guide only.
 * A group or block in which no plant, or every plant, lodged makes the ordinary estimate infinite: status `separation`, and
 * tests on the deviance are then still given (they stay finite) but not the slopes.
 *
 * @throws AnalysisError `length-mismatch`, `invalid-data`, `not-estimable` with fewer than two groups
 * @example
 * const density = [20, 26, 32, 38];
 * const result = lodgingInteraction({
 *   density: [...density, ...density],
 *   lodged: [1, 3, 9, 20, 1, 2, 3, 4],
 *   examined: [60, 60, 60, 60, 60, 60, 60, 60],
 *   group: ["A", "A", "A", "A", "B", "B", "B", "B"],
 * });
 * result.slopes.map(({ group }) => group); // => ["A", "B"]
 *
 * Source: McCullagh & Nelder (1989), Generalized Linear Models, sections 2.3 and 4.5.
 */
export function lodgingInteraction(input: LodgingGroups, options: LodgingInteractionOptions = {}): LodgingInteraction {
  checkShape(input, "input", lodgingGroupsShape);
  checkShape(options, "options", lodgingInteractionOptionsShape, "invalid-option");
  const data = readLodging(input);
  const n = data.density.length;
  check(input.group.length === n, "length-mismatch", `density has ${n} values but group has ${input.group.length}`);
  const groups = numberBlocks(input.group, n);
  check(groups.labels.length >= 2, "not-estimable", "an interaction needs at least two groups");
  const blocks = numberBlocks(data.block, n);
  const events = Float64Array.from(data.lodged);
  const trials = data.examined ? Float64Array.from(data.examined) : new Float64Array(n).fill(1);
  const low = Math.min(...data.density);
  const high = Math.max(...data.density);
  const [centre, spread] = [(low + high) / 2, high > low ? (high - low) / 2 : 1];
  const z = Float64Array.from(data.density, (x) => (x - centre) / spread);

  const blockColumns = blocks.labels.map((_, b) => Float64Array.from(blocks.index, (k) => (k === b ? 1 : 0)));
  const groupColumns = groups.labels.map((_, g) => Float64Array.from(groups.index, (k) => (k === g ? 1 : 0)));
  // Groups tied to blocks (each block one group) have no effect of their own beside the blocks.
  const nested = independent([...blockColumns], groupColumns.slice(1));
  const slopeColumns = groupColumns.map((column) => column.map((value, i) => value * z[i]));
  const level = [...blockColumns, ...nested];
  const refit = (columns: readonly Float64Array[]) => {
    const p = columns.length;
    const design = Float64Array.from({ length: n * p }, (_, k) => columns[k % p][Math.floor(k / p)]);
    return fitBinomial(
      { design, columns: p, events, trials, link: binomialLinks[options.link ?? "logit"] },
      { maxIterations: 60, accuracy: 1e-9 },
    );
  };
  const large = refit([...level, ...slopeColumns]);
  const common = refit([...level, z]);
  const noGroup = refit([...blockColumns, z]);
  const noDensity = refit(level);
  const dofResidual = n - level.length - slopeColumns.length;
  const empty = {
    schema: "standcurve/lodging-interaction/1",
    interaction: null,
    group: null,
    density: null,
    slopes: [],
    commonSlope: null,
    dispersion: null,
    dofResidual: Math.max(0, dofResidual),
    note: null,
  } as const;
  if (independent(level, slopeColumns).length < slopeColumns.length) {
    return {
      ...empty,
      status: "singular",
      note: "Some group was seen at one density only (within blocks), so it has no slope of its own.",
    };
  }
  // A maximum at infinity shows as an iteration that creeps on, or as shares fitted at 0 or 1.
  const infinite =
    large.status !== "converged" || large.vcov === null || large.fitted.some((p) => p < 1e-8 || p > 1 - 1e-8);
  const quasi = (options.dispersion ?? "quasi") === "quasi" || data.examined === null;
  const dispersion = dofResidual > 0 ? large.pearson / dofResidual : null;
  const scale = quasi && dispersion !== null ? (infinite ? Math.max(1, dispersion) : dispersion) : 1;
  const test = (drop: number, dof1: number): DevianceTest | null => {
    if (dof1 <= 0) return null;
    const chi = Math.max(0, drop) / scale;
    if (!quasi || dispersion === null) return { statistic: chi, dof1, dof2: null, pValue: chiSquareUpper(chi, dof1) };
    return { statistic: chi / dof1, dof1, dof2: dofResidual, pValue: fUpper(chi / dof1, dof1, dofResidual) };
  };
  const error = (vcov: Float64Array, p: number, k: number) => Math.sqrt(scale * vcov[k * p + k]) / spread;
  const p = level.length + slopeColumns.length;
  return {
    ...empty,
    status: infinite ? "separation" : "converged",
    interaction: test(common.deviance - large.deviance, slopeColumns.length - 1),
    group: test(noGroup.deviance - common.deviance, nested.length),
    density: test(noDensity.deviance - common.deviance, 1),
    slopes: infinite
      ? []
      : groups.labels.map((group, g) => ({
          group,
          slope: large.coef[level.length + g] / spread,
          standardError: error(large.vcov as Float64Array, p, level.length + g),
        })),
    commonSlope:
      common.vcov === null || common.status !== "converged"
        ? null
        : {
            slope: common.coef[level.length] / spread,
            standardError: error(common.vcov, level.length + 1, level.length),
          },
    dispersion,
    note: infinite
      ? "Some group or block has no lodged plant, or only lodged plants; its level or slope is infinite, fit it on its own."
      : null,
  };
}

/** Those of `candidates` that are not combinations of `given` and of each other (Gram-Schmidt). */
function independent(given: readonly Float64Array[], candidates: readonly Float64Array[]): Float64Array[] {
  const basis: Float64Array[] = [];
  const add = (column: Float64Array): boolean => {
    let rest = Float64Array.from(column);
    for (let pass = 0; pass < 2; pass++) {
      for (const unit of basis) {
        const share = rest.reduce((sum, value, i) => sum + value * unit[i], 0);
        rest = rest.map((value, i) => value - share * unit[i]);
      }
    }
    const size = norm(rest);
    if (size <= 1e-9 * norm(column)) return false;
    basis.push(rest.map((value) => value / size));
    return true;
  };
  given.forEach(add);
  return candidates.filter(add);
}
