import type { DensityUnit, YieldUnit } from "../trial/trial.ts";
import type { AreaUnit } from "../trial/units.ts";
import type { Nutrient } from "./field.ts";

/** What a column or property of a zone file holds. */
export type ZoneColumn =
  | { readonly role: "id" | "hybrid" | "environment" | "supplyUnit" }
  | { readonly role: "establishment" | "toleratedLodging" | "nitrogenRate" | "rootingFactor" }
  | { readonly role: "area"; readonly unit: AreaUnit | null }
  | { readonly role: "yieldGoal"; readonly unit: YieldUnit | null }
  | { readonly role: "presentRate"; readonly unit: DensityUnit | null }
  | {
      readonly role: "nutrient";
      readonly nutrient: Nutrient;
      readonly part: "soil" | "soilRecovery" | "applied" | "recovery";
    };

const plain: Readonly<Record<string, ZoneColumn>> = {
  zone: { role: "id" },
  zoneid: { role: "id" },
  id: { role: "id" },
  hybrid: { role: "hybrid" },
  environment: { role: "environment" },
  supplyunit: { role: "supplyUnit" },
  establishment: { role: "establishment" },
  toleratedlodging: { role: "toleratedLodging" },
  nitrogenrate: { role: "nitrogenRate" },
  rootingfactor: { role: "rootingFactor" },
};

const areas: Readonly<Record<string, AreaUnit | null>> = {
  "": null,
  ac: "ac",
  acre: "ac",
  acres: "ac",
  ha: "ha",
  m2: "m2",
  sqm: "m2",
};
const yields: Readonly<Record<string, YieldUnit | null>> = {
  "": null,
  buac: "bu/ac",
  lbac: "lb/ac",
  tha: "t/ha",
  kgha: "kg/ha",
  gm2: "g/m2",
};
const rates: Readonly<Record<string, DensityUnit | null>> = {
  "": null,
  ac: "plants/ac",
  seedsac: "plants/ac",
  kac: "1000 plants/ac",
  ha: "plants/ha",
  seedsha: "plants/ha",
  kha: "1000 plants/ha",
  m2: "plants/m2",
  seedsm2: "plants/m2",
};
const nutrients: Readonly<Record<string, Nutrient>> = { n: "N", p2o5: "P2O5", k2o: "K2O", s: "S" };
const parts = { soil: "soil", soilrecovery: "soilRecovery", applied: "applied", recovery: "recovery" } as const;

/** The role of a header such as "Yield goal (bu/ac)" or "area_ha"; null for a column that is only kept. */
export function zoneColumn(header: string): ZoneColumn | null {
  const word = header.toLowerCase().replace(/[^a-z0-9]/g, "");
  const known = Object.hasOwn(plain, word) ? plain[word] : undefined;
  if (known !== undefined) return known;
  const ending = <T>(start: string, units: Readonly<Record<string, T>>): T | undefined => {
    const rest = word.slice(start.length);
    return word.startsWith(start) && Object.hasOwn(units, rest) ? units[rest] : undefined;
  };
  const area = ending("area", areas);
  if (area !== undefined) return { role: "area", unit: area };
  const goal = ending("yieldgoal", yields);
  if (goal !== undefined) return { role: "yieldGoal", unit: goal };
  const rate = ending("presentrate", rates);
  if (rate !== undefined) return { role: "presentRate", unit: rate };
  const match = /^(n|p2o5|k2o|s)(soilrecovery|soil|applied|recovery)$/.exec(word);
  if (match === null) return null;
  return { role: "nutrient", nutrient: nutrients[match[1]], part: parts[match[2] as keyof typeof parts] };
}
