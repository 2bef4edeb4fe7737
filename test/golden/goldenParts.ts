import type { CurveAnalysis, TrialAnalysis } from "../../src/analyze/result.ts";
import type { Recommendation } from "../../src/recommend/recommendation.ts";
import type { ZonePlan } from "../../src/recommend/zonePlan.ts";
import { shortHash } from "./shortHash.ts";

export type Key = Record<string, number | string | null>;

/** Ten digits: below them a change of the order of additions shows, not a change of an answer. */
export const digits = (value: number): number => Number(value.toPrecision(10));

/** Every number of a plain result with its path. */
function numbersOf(value: unknown, path: string, out: [path: string, value: number][]): [string, number][] {
  if (typeof value === "number") out.push([path, value]);
  else if (value !== null && typeof value === "object")
    for (const [name, inner] of Object.entries(value)) numbersOf(inner, path === "" ? name : `${path}.${name}`, out);
  return out;
}

/**
 * Hash of the numbers of each part of a result. A part is a path down to four names without the last one where it is a plain number,
 * so that "which part changed" can be said without storing every number.
 */
export function partsOf(result: unknown): Record<string, string> {
  const parts = new Map<string, string[]>();
  for (const [path, value] of numbersOf(result, "", [])) {
    const names = path.split(".");
    const part = names.slice(0, Math.min(4, names.length - 1)).join(".") || "(top)";
    parts.set(part, [...(parts.get(part) ?? []), `${path}=${digits(value)}`]);
  }
  return Object.fromEntries([...parts].map(([part, list]) => [part, shortHash(list.join("\n"))]));
}

/** Chosen curve, optima with their ranges and flex score of every hybrid over all environments. */
export function curveKeys({ hybrids }: TrialAnalysis): Key {
  return Object.fromEntries(
    hybrids.flatMap(({ pooled }) => (pooled.kind === "analysed" ? Object.entries(keysOfCurve(pooled)) : [])),
  );
}

function keysOfCurve({ hybrid, chosen, agronomic, economic, flex }: CurveAnalysis): Key {
  const at = (optimum: { readonly density?: number | null }): number | null =>
    optimum.density == null ? null : digits(optimum.density);
  const end = (value: number | null): number | null => (value === null ? null : digits(value));
  return {
    [`${hybrid}: curve`]: chosen,
    [`${hybrid}: agronomic optimum`]: at(agronomic.optimum),
    [`${hybrid}: lower end`]: end(agronomic.interval.lower),
    [`${hybrid}: upper end`]: end(agronomic.interval.upper),
    ...(economic ? { [`${hybrid}: economic optimum`]: at(economic.optimum) } : {}),
    [`${hybrid}: flex score`]: end(flex.flex.score),
  };
}

/** Rate, binding limit and expected return. */
export function rateKeys({ rate, bindingLimit, expected }: Recommendation): Key {
  return {
    rate: digits(rate),
    "binding limit": bindingLimit,
    "expected return": digits(expected.return.mean),
  };
}

/** Rate of each zone, and what varying is worth. */
export function zoneKeys({ zones, value }: ZonePlan): Key {
  return {
    ...Object.fromEntries(zones.map(({ id, rate }) => [`${id}: rate`, rate === null ? null : digits(rate)])),
    "worth of varying": value === null ? null : digits(value.total.mean),
  };
}
