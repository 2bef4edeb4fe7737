import { lastCounts } from "./countOrder.ts";
import { type Ability, limited, no } from "./estimable.ts";
import type { LodgingCount, Plot } from "./trial.ts";

/** What the last lodging counts of one kind can tell about one hybrid. */
export interface StandabilityCheck {
  readonly kind: LodgingCount["kind"];
  /** Plots with a count of this kind and a density. */
  readonly plots: number;
  readonly densities: number;
  /** Plants lodged and examined over the plots that give both; null when the file gives percentages only. */
  readonly lodged: number | null;
  readonly examined: number | null;
  /** The density at which a tolerated share lodges. */
  readonly limit: Ability;
}

/** One entry per kind of lodging counted on these plots; of several dates the last count of each plot. */
export function standabilityChecks(plots: readonly Plot[]): StandabilityCheck[] {
  const kinds = new Map<LodgingCount["kind"], { plot: Plot; count: LodgingCount }[]>();
  for (const plot of plots) {
    if (plot.excluded !== null || plot.density === null) continue;
    for (const count of lastCounts(plot.lodging)) {
      const list = kinds.get(count.kind) ?? [];
      kinds.set(count.kind, list);
      list.push({ plot, count });
    }
  }
  return [...kinds].map(([kind, list]) => {
    const counted = list.filter(({ count }) => count.examined !== null);
    const lodged = counted.reduce((sum, { count }) => sum + count.lodged, 0);
    const examined = counted.reduce((sum, { count }) => sum + (count.examined ?? 0), 0);
    const densities = new Set(list.map(({ plot }) => plot.density)).size;
    return {
      kind,
      plots: new Set(list.map(({ plot }) => plot)).size,
      densities,
      lodged: counted.length === 0 ? null : lodged,
      examined: counted.length === 0 ? null : examined,
      limit: limitAbility(densities, counted.length, lodged, examined),
    };
  });
}

function limitAbility(densities: number, counted: number, lodged: number, examined: number): Ability {
  if (densities < 2) return no("lodging was counted at one density only");
  if (counted === 0)
    return limited("only percentages are given, without the plants examined, so each plot weighs the same", null);
  if (lodged === 0)
    return limited(
      "no plant lodged, so the limit lies above the tested range and only a lower bound can be given",
      null,
    );
  if (lodged === examined) return limited("every plant lodged, so the limit lies below the tested range", null);
  if (densities < 3) return limited("two densities give a trend but no check of its shape", null);
  return { possible: "yes", reason: null, dof: null };
}
