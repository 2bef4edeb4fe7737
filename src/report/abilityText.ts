import type { TrialCheck } from "../trial/checkTrial.ts";
import type { Ability } from "../trial/estimable.ts";
import { fixed, listText } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";

const NAMED = 6;
const WARNINGS = 20;

/** What the trial cannot tell or tells only with care, and what to be careful about, a line each. */
export function abilityLines(check: TrialCheck, width: number): string[] {
  const messages = designWarnings(check);
  const rest = messages.length - WARNINGS;
  return [
    ...[...perHybrid(check), ...between(check), ...messages.slice(0, WARNINGS)].flatMap((text) =>
      wrapText(text, width, "  - ", "    "),
    ),
    ...(rest > 0 ? [`    and ${fixed(rest, 0)} more warnings about the design`] : []),
  ];
}

/** Warnings that differ in the hybrid alone become one. */
function designWarnings({ warnings, hybrids }: TrialCheck): string[] {
  const groups = new Map<string, string[]>();
  for (const { hybrid, message } of warnings) {
    const own = hybrid !== null && message.startsWith(`${hybrid}: `);
    const text = own ? message.slice(`${hybrid}: `.length) : message;
    const names = groups.get(text) ?? [];
    groups.set(text, own ? [...names, plainText(hybrid)] : names);
  }
  return [...groups].map(([text, names]) =>
    plainText(names.length === 0 ? text : `${namesText(names, hybrids.length)}: ${text}`),
  );
}

function namesText(names: readonly string[], total: number): string {
  if (names.length <= NAMED) return listText(names);
  return names.length === total ? "All hybrids" : `${names.length} of ${total} hybrids`;
}

interface Finding {
  readonly what: string;
  readonly hybrid: string;
  readonly ability: Ability;
}

const kinds = {
  stalk: "broken stalks pass",
  root: "root lodging passes",
  "green-snap": "green snap passes",
  any: "lodging passes",
  push: "failures in the push test pass",
  pinch: "failures in the pinch test pass",
} as const;

function perHybrid({ hybrids }: TrialCheck): string[] {
  const findings = hybrids.flatMap(({ hybrid, pooled, standability }): Finding[] => {
    const bent = pooled.families.find(({ family }) => family === "quadratic");
    return [
      ...(bent === undefined ? [] : [{ what: "whether yield peaks or levels off", hybrid, ability: bent }]),
      { what: "a range for the optimum", hybrid, ability: pooled.interval },
      { what: "whether the curve misses the density means", hybrid, ability: pooled.lackOfFit },
      ...standability.map(({ kind, limit }) => ({
        what: `the density at which ${kinds[kind]} the tolerated share`,
        hybrid,
        ability: limit,
      })),
    ];
  });
  const groups = new Map<string, Finding[]>();
  for (const finding of findings) {
    if (finding.ability.possible === "yes") continue;
    const key = JSON.stringify([finding.what, finding.ability.possible, finding.ability.reason]);
    groups.set(key, [...(groups.get(key) ?? []), finding]);
  }
  return [...groups.values()].map((same) => {
    const first = same[0] as Finding;
    const names = same.map(({ hybrid }) => plainText(hybrid));
    const whom = same.length === hybrids.length ? "" : ` for ${namesText(names, hybrids.length)}`;
    return sentence(first.ability, `${first.what}${whom}`);
  });
}

function between({ hybrids, hybridByDensity, environmentByDensity }: TrialCheck): string[] {
  return [
    ...(hybridByDensity.possible === "yes" || hybrids.length < 2
      ? []
      : [sentence(hybridByDensity, "whether the hybrids respond differently to density")]),
    ...(environmentByDensity.possible === "yes" || hybrids.length === 0
      ? []
      : [sentence(environmentByDensity, "whether the response differs between environments")]),
  ];
}

function sentence({ possible, reason }: Ability, what: string): string {
  const verb = possible === "no" ? "It cannot tell" : "With care only:";
  return `${verb} ${what}${reason === null ? "" : `: ${plainText(reason)}`}.`;
}
