import { headerWords } from "./headerWords.ts";
import { type Role, roleEntry, roleTable } from "./roles.ts";
import { type ColumnUnit, unitFromWords } from "./unitWords.ts";

/** What a header says about its column. */
export interface HeaderMatch {
  readonly role: Role;
  /** False when the words can mean something else too. */
  readonly strong: boolean;
  readonly unit: ColumnUnit | null;
}

/** Everything read from one header; `hint` is a role whose words are there with a unit that cannot be used. */
export interface HeaderReading {
  readonly match: HeaderMatch | null;
  readonly hint: { readonly role: Role; readonly unitText: string } | null;
  readonly moistureBasis: number | null;
  /** "wet" or "dry" when the header says so. */
  readonly condition: "wet" | "dry" | null;
}

const bag = (words: readonly string[]): string => [...words].sort().join(" ");
const strong = new Map<string, Role>();
const weak = new Map<string, Role>();
for (const entry of roleTable) {
  for (const words of entry.strong) strong.set(bag(words.split(" ")), entry.role);
  for (const words of entry.weak) weak.set(bag(words.split(" ")), entry.role);
}
const labelFiller = new Set(["id", "no", "nr", "num", "number", "name", "code", "label"]);

/** Reads role and unit from a header: the words without up to five trailing unit words must be those of a role. */
export function matchHeader(header: string): HeaderReading {
  const { words, moistureBasis } = headerWords(header);
  const condition = words.some((word) => ["wet", "harvested"].includes(word))
    ? "wet"
    : words.some((word) => ["dry", "adjusted", "corrected", "standard"].includes(word))
      ? "dry"
      : null;
  const reading = { moistureBasis, condition, hint: null } as const;
  let hint: HeaderReading["hint"] = null;
  for (let cut = words.length; cut >= Math.max(1, words.length - 5); cut--) {
    const found = lookUp(words.slice(0, cut));
    if (found === null) continue;
    const unitWords = words.slice(cut);
    if (unitWords.length === 0) return { ...reading, match: { ...found, unit: null } };
    const unit = unitFromWords(roleEntry.get(found.role)?.kind ?? "text", unitWords);
    if (unit !== null) return { ...reading, match: { ...found, unit } };
    // "stand count (plants/ac)" is a stand already worked out, not a number of plants.
    const perArea = found.role === "standCount" ? unitFromWords("density", unitWords) : null;
    if (perArea !== null) return { ...reading, match: { role: "stand", strong: true, unit: perArea } };
    hint = { role: found.role, unitText: unitWords.join(" ") };
  }
  return { ...reading, match: unitAlone(words), hint };
}

/** A header that is nothing but a unit, such as "plants/m2", "1000 seeds/ac" or "bu/ac". */
function unitAlone(words: readonly string[]): HeaderMatch | null {
  const density = unitFromWords("density", words);
  if (density !== null && words.some((word) => word.includes("seed")))
    return { role: "seedingRate", strong: true, unit: density };
  if (density !== null && words.length > 1) return { role: "stand", strong: false, unit: density };
  if (density !== null && words[0]?.endsWith("ppa")) return { role: "stand", strong: false, unit: density };
  const perArea = unitFromWords("yield", words);
  return perArea === null ? null : { role: "yield", strong: true, unit: perArea };
}

function lookUp(words: readonly string[]): { role: Role; strong: boolean } | null {
  const key = bag(words);
  const role = strong.get(key);
  if (role !== undefined) return { role, strong: true };
  const other = weak.get(key);
  if (other !== undefined) return { role: other, strong: false };
  const plain = words.filter((word) => !labelFiller.has(word));
  if (plain.length === words.length || plain.length === 0) return null;
  const label = strong.get(bag(plain)) ?? weak.get(bag(plain));
  return label !== undefined && roleEntry.get(label)?.kind === "label"
    ? { role: label, strong: strong.has(bag(plain)) }
    : null;
}
