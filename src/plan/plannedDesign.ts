import { check } from "../core/errors.ts";
import { type JoinDesign, joinDesign } from "../numeric/joinDesign.ts";

/**
 * A planned trial in which every block holds every density once. Then the level means carry all that the plots say about the
 * curve, and blocks need not be laid out one by one: one block with weights gives the same normal equations.
 */
export interface PlannedDesign {
  /** Ascending, caller's unit; shape [m]. */
  readonly densities: Float64Array;
  /** Blocks in each environment, and environments (site x year). */
  readonly blocks: number;
  readonly environments: number;
  readonly plots: number;
  /** One weighted "plot" a density; the weight is the number of plots of that density. */
  readonly design: JoinDesign;
  /** Residual degrees of freedom of the richest candidate (blocks + 2 shape parameters). */
  readonly dof: number;
  /** Degrees of freedom of plots within blocks and densities, inside environments. */
  readonly errorDof: number;
}

export function plannedDesign(densities: ArrayLike<number>, blocks: number, environments = 1): PlannedDesign {
  const sorted = Float64Array.from(densities).sort();
  const m = sorted.length;
  const all = blocks * environments;
  const weight = new Float64Array(m).fill(all);
  return {
    densities: sorted,
    blocks,
    environments,
    plots: m * all,
    design: joinDesign(sorted, new Int32Array(m), 1, weight),
    dof: m * all - all - (m > 2 ? 2 : 1),
    errorDof: environments * (blocks - 1) * (m - 1),
  };
}

/** Guard for densities, blocks and environments given by a caller. */
export function checkPlanned(densities: readonly number[], blocks: number, environments: number): void {
  check(densities.length >= 2, "invalid-option", `a trial needs at least two densities, got ${densities.length}`);
  for (const x of densities)
    check(x > 0 && Number.isFinite(x), "invalid-option", `densities must be finite and > 0, got ${x}`);
  check(
    new Set(densities).size === densities.length,
    "invalid-option",
    `densities must differ from each other, got ${densities.join(", ")}`,
  );
  check(
    Number.isInteger(blocks) && blocks >= 1 && blocks <= 1000,
    "invalid-option",
    `blocks must be an integer from 1 to 1000, got ${blocks}`,
  );
  check(
    Number.isInteger(environments) && environments >= 1 && environments <= 1000,
    "invalid-option",
    `sites x years must be an integer from 1 to 1000, got ${environments}`,
  );
}
