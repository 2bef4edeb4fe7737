import type { Kind } from "./roles.ts";
import type { DensityUnit } from "./trial.ts";
import type { AreaUnit, LengthUnit, MassUnit, YieldColumnUnit } from "./units.ts";

/** Units of plant traits, kept as written: they are never converted. */
export type TraitUnit = "N" | "kN" | "lbf" | "kgf" | "MPa" | "N/mm2" | "score";

/** Any unit a column can carry; "fraction" is a share of 1, "count" a number of plants. */
export type ColumnUnit =
  | DensityUnit
  | YieldColumnUnit
  | LengthUnit
  | MassUnit
  | AreaUnit
  | TraitUnit
  | "percent"
  | "fraction"
  | "count";

const area = table<AreaUnit>("ac:ac acre acres a|ha:ha hectare hectares|m2:m2 sqm m²|ft2:ft2 sqft");
const length = table<LengthUnit>(
  "ft:ft foot feet|in:in inch inches|yd:yd yard yards|m:m meter meters metre metres|cm:cm|mm:mm",
);
const mass = table<MassUnit>(
  "lb:lb lbs pound pounds|kg:kg kgs kilogram kilograms|g:g gram grams|t:t tonne tonnes mt|oz:oz",
);
const grain = table<"bu" | "lb" | "t" | "kg" | "g" | "dt" | "cwt">(
  "bu:bu bushel bushels|lb:lb lbs pound pounds|t:t tonne tonnes mg mt|kg:kg|g:g gram grams|dt:dt dz q quintal quintals|cwt:cwt",
);
const force = table<TraitUnit>(
  "N:n newton newtons|kN:kn kilonewton kilonewtons|lbf:lbf lb lbs|kgf:kgf kg|MPa:mpa|score:score scores points",
);
const nouns = new Set([
  "plants",
  "plant",
  "plt",
  "plts",
  "pl",
  "seeds",
  "seed",
  "sds",
  "kernels",
  "kernel",
  "grains",
  "population",
  "x",
]);
const thousands = new Set(["k", "1000", "1000s", "thousand", "thousands", "thous", "kseeds", "kplants", "ksds"]);

/**
 * The unit that a list of lower-case words stands for, for cells of this kind: bu, ac gives "bu/ac"; k, seeds, acre gives
 * "1000 plants/ac". Null when the words are not a unit of that kind.
 */
export function unitFromWords(kind: Kind, words: readonly string[]): ColumnUnit | null {
  const joined = words
    .join(" ")
    .replace(/\b(sq|square) (m|metre|meter|metres|meters)\b/, "m2")
    .replace(/\b(sq|square) (ft|foot|feet)\b/, "ft2");
  const parts = joined.split(" ");
  switch (kind) {
    case "density":
      return densityUnit(parts);
    case "yield":
      return yieldUnit(parts);
    case "length":
      return parts.length === 1 ? (length.get(joined) ?? null) : null;
    case "mass":
      return parts.length === 1 ? (mass.get(joined) ?? null) : null;
    case "area":
      return parts.length === 1 ? (area.get(joined) ?? null) : null;
    case "percent":
      return percent(joined);
    case "lodging":
      return percent(joined) ?? (["count", "counts", "plants", "number"].includes(joined) ? "count" : null);
    case "trait":
      if (joined === "n mm2" || joined === "n sq mm") return "N/mm2";
      return parts.length === 1 ? (length.get(joined) ?? force.get(joined) ?? null) : null;
    default:
      return null;
  }
}

function percent(text: string): "percent" | "fraction" | null {
  if (["pct", "percent", "percentage", "perc"].includes(text)) return "percent";
  return ["fraction", "share", "proportion"].includes(text) ? "fraction" : null;
}

function densityUnit(words: readonly string[]): DensityUnit | null {
  const text = words.join(" ");
  if (text === "ppa" || text === "plants acre") return "plants/ac";
  if (text === "kppa" || text === "k ppa" || text === "1000 ppa") return "1000 plants/ac";
  const rest = words.filter((word) => !nouns.has(word));
  const ground = area.get(rest.at(-1) ?? "");
  if (ground === undefined || rest.length > 2) return null;
  if (rest.length === 1) return `plants/${ground}`;
  if (!thousands.has(rest[0] ?? "") || ground === "m2" || ground === "ft2") return null;
  return `1000 plants/${ground}`;
}

function yieldUnit(words: readonly string[]): YieldColumnUnit | null {
  const text = words.join(" ");
  if (["bpa", "buac", "bua", "bu a"].includes(text)) return "bu/ac";
  if (text === "tons ha" || text === "ton ha") return "t/ha";
  if (words.length !== 2) return null;
  const unit = `${grain.get(words[0] ?? "")}/${area.get(words[1] ?? "")}`;
  return ["bu/ac", "lb/ac", "cwt/ac", "t/ha", "kg/ha", "dt/ha", "g/m2"].includes(unit)
    ? (unit as YieldColumnUnit)
    : null;
}

function table<Unit extends string>(text: string): ReadonlyMap<string, Unit> {
  const map = new Map<string, Unit>();
  for (const line of text.split("|")) {
    const [unit, words] = line.split(":") as [Unit, string];
    for (const word of words.split(" ")) map.set(word, unit);
  }
  return map;
}
