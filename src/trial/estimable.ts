import { allFamilies, type Family } from "../curves/family.ts";
import type { Layout } from "./layout.ts";

/** Can something be had from this design? "limited": yes, but with the reservation given as reason. */
export interface Ability {
  readonly possible: "yes" | "limited" | "no";
  /** Why not, or what to keep in mind, in words; null when there is nothing to say. */
  readonly reason: string | null;
  /** Residual degrees of freedom it would have; null when it cannot be had. */
  readonly dof: number | null;
}

/** One response family on one set of plots. */
export interface FamilyAbility extends Ability {
  readonly family: Family;
}

/** Powers of density that a family needs inside blocks, and parameters beyond the block levels. */
const needs: Readonly<Record<Family, { readonly terms: number; readonly shape: number }>> = {
  flat: { terms: 0, shape: 0 },
  linear: { terms: 1, shape: 1 },
  quadratic: { terms: 2, shape: 2 },
  "linear-plateau": { terms: 2, shape: 2 },
  "quadratic-plateau": { terms: 2, shape: 2 },
  exponential: { terms: 1, shape: 1 },
  reciprocal: { terms: 1, shape: 1 },
  "parabolic-reciprocal": { terms: 2, shape: 2 },
  mitscherlich: { terms: 2, shape: 2 },
};

/** Which families these plots can carry, and why the others not. */
export function familyAbilities(layout: Layout): FamilyAbility[] {
  return allFamilies.map((family) => ({ family, ...familyAbility(family, layout) }));
}

function familyAbility(family: Family, { plots, blocks, densities, terms, lowest }: Layout): Ability {
  const { terms: wanted, shape } = needs[family];
  if (plots === 0) return no("no plot has both a density and a yield");
  if (terms < wanted) {
    if (densities <= wanted)
      return no(
        `it needs ${numeral(wanted + 1)} densities, and there ${densities === 1 ? "is one" : `are ${densities}`}`,
      );
    return no("densities are confounded with blocks: inside the blocks too few densities can be compared");
  }
  const perPlant = ["exponential", "reciprocal", "parabolic-reciprocal"].includes(family);
  if (perPlant && lowest !== null && lowest <= 0)
    return no("it describes yield per plant, which needs densities above zero");
  const dof = plots - blocks - shape;
  if (dof < 0) return no(`${plots} plots cannot carry ${blocks} block levels and ${shape} curve parameters`);
  if (dof === 0) return limited("it passes through every plot, so nothing is left to judge its error", dof);
  if (wanted === 2 && terms === 2) {
    return limited(
      "with three densities every bent curve fits equally well: the trial cannot tell a plateau from a peak",
      dof,
    );
  }
  if (perPlant && terms === wanted)
    return limited("it has as many parameters as there are densities, so its shape cannot be checked", dof);
  return { possible: "yes", reason: null, dof };
}

/** Lack of fit: do the densities as separate means say more than the curve? */
export function lackOfFitAbility({ plots, densities, terms, pureErrorDof }: Layout): Ability {
  if (plots === 0) return no("no plot has both a density and a yield");
  if (terms < 3)
    return no(
      densities < 4
        ? `with ${numeral(densities)} ${densities === 1 ? "density" : "densities"} a bent curve passes through every mean`
        : "densities are confounded with blocks",
    );
  if (pureErrorDof < 1) return no("no density is repeated, so there is no pure error to compare with");
  if (pureErrorDof < 6)
    return limited(
      `pure error rests on ${pureErrorDof} degrees of freedom, so only a gross misfit would show`,
      pureErrorDof,
    );
  return { possible: "yes", reason: null, dof: pureErrorDof };
}

/** Differences between blocks. */
export function blockAbility({ plots, blocks, terms }: Layout): Ability {
  if (blocks < 2) return no("there is one block");
  const dof = plots - blocks - Math.min(terms, 2);
  if (dof < 1) return no("no plots are left to judge the error");
  return { possible: "yes", reason: null, dof };
}

/** An interval for the optimum: needs a bent curve and an error to judge it by. */
export function intervalAbility({ plots, blocks, terms, densities }: Layout): Ability {
  if (terms < 2)
    return no(densities < 3 ? "an optimum needs at least three densities" : "densities are confounded with blocks");
  const dof = plots - blocks - 2;
  if (dof < 1) return no("no plots are left to judge the error");
  if (dof < 6) return limited(`the error rests on ${dof} degrees of freedom, so intervals will be very wide`, dof);
  if (densities <= 4) return limited("four densities or fewer seldom bound an optimum from both sides", dof);
  return { possible: "yes", reason: null, dof };
}

export const no = (reason: string): Ability => ({ possible: "no", reason, dof: null });
export const limited = (reason: string, dof: number | null): Ability => ({ possible: "limited", reason, dof });
const numeral = (count: number): string => ["no", "one", "two", "three", "four"][count] ?? String(count);
