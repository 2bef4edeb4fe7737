import type { Assessment } from "./assess.ts";
import type { DensityLimit, LimitName } from "./densityLimit.ts";
import { defaultPlanterStep, planterRates } from "./planterRates.ts";
import { isMore } from "./returns.ts";

export interface ChosenRate {
  readonly target: number;
  readonly rate: number;
  readonly bindingLimit: LimitName;
  /** Lowest cap, and which limit it is. */
  readonly cap: number;
  readonly capName: LimitName;
  readonly acceptedStep: DensityLimit;
  readonly notes: readonly string[];
}

/**
 * Target: the planter's rate of the highest worth between the lowest tested density and the lowest cap. Rate: as near to it as the
 * accepted step from the present rate allows.
 */
export function chooseRate({ scene, lodging, feeding, nitrogen, economic, returns }: Assessment): ChosenRate {
  const { field, rates, rateUnit } = scene;
  const step = field.planterStep ?? defaultPlanterStep(rateUnit);
  const notes: string[] = [];
  const caps = [
    { name: "tested-range" as LimitName, rate: rates[1] },
    ...[lodging.limit, feeding.limit, nitrogen.limit]
      .filter((limit) => limit.kind === "at" || limit.kind === "at-lowest")
      .map(({ name, rate }) => ({ name, rate: rate as number })),
  ];
  const lowest = caps.reduce((a, b) => (b.rate < a.rate * (1 - 1e-12) ? b : a));
  const free = planterRates(rates[0], rates[1], step);
  let allowed = planterRates(rates[0], lowest.rate, step);
  if (allowed.length === 0) {
    // Nothing was tested below: the first rate of the planter inside the tested range stands for "as low as was tested".
    allowed = free.length > 0 ? [free[0]] : [lowest.rate];
    notes.push(
      free.length > 0
        ? "The cap is at or below the lowest tested density; the planter's first rate inside the tested range is given."
        : "No multiple of the planter's step lies inside the tested range, so the rate is not rounded.",
    );
  }
  const target = best(allowed, returns.worth);
  const unbound = free.length === 0 ? target : best(free, returns.worth);
  const edge = economic.kind !== "at";
  const bound = unbound > target ? lowest.name : edge ? "tested-range" : "economic-optimum";
  const { rate, limit } = moveTowards(target, step, scene.field.presentRate, scene.field.acceptedStep, scene);
  return {
    target,
    rate,
    bindingLimit: rate === target ? bound : "accepted-step",
    cap: lowest.rate,
    capName: lowest.name,
    acceptedStep: limit,
    notes,
  };
}

function best(rates: readonly number[], worth: (rate: number) => number): number {
  let top = rates[0];
  let most = worth(top);
  for (const rate of rates.slice(1)) {
    const value = worth(rate);
    if (isMore(value, most)) [top, most] = [rate, value];
  }
  return top;
}

/** The multiple of the step nearest the target that the grower accepts; the present rate when not even one step is accepted. */
function moveTowards(
  target: number,
  step: number,
  present: number | undefined,
  accepted: number | undefined,
  { establishment }: Assessment["scene"],
): { rate: number; limit: DensityLimit } {
  const name = "accepted-step";
  if (present === undefined || accepted === undefined) {
    const basis = present === undefined ? "No present rate was given." : "The grower named no largest step.";
    return { rate: target, limit: { name, kind: "none", rate: null, stand: null, interval: null, basis } };
  }
  const up = target >= present;
  const end = up ? present + accepted : Math.max(present - accepted, 0);
  const share =
    establishment === null ? null : typeof establishment === "number" ? establishment : establishment.likely;
  const limit: DensityLimit = {
    name,
    kind: "at",
    rate: end,
    stand: share === null ? null : end * share,
    interval: null,
    basis: `The present rate ${up ? "plus" : "less"} the largest step the grower accepts in one season.`,
  };
  const within = Math.abs(target - present) <= accepted * (1 + 1e-9);
  if (within) return { rate: target, limit };
  const reachable = up ? planterRates(present, end, step) : planterRates(end, present, step);
  const rate = up ? reachable[reachable.length - 1] : reachable[0];
  return { rate: rate ?? present, limit };
}
