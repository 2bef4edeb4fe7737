import { checkShape } from "../core/checkShape.ts";
import type { Crop } from "./trial.ts";

/** A crop with where its figures come from and the other words it is written with. */
export interface CropEntry extends Crop {
  /** Where the two figures come from; "common practice, no source" when we found none. */
  readonly source: string;
  /** Other spellings that a file may use, lower case. */
  readonly aliases: readonly string[];
}

const official =
  "lb/bu: official weights per bushel, as listed by an encyclopaedia (Test weight) and Ohio extension AGF-503";
const extension = "moisture: instrument manual's table citing Florida extension AG442";
const practice = "common practice, no source";

/**
 * Weight of a bushel (lb) and moisture (percent) at which yield is stated. Every figure can be overridden: buyers and
 * regions differ, above all for sorghum (12.5 to 14 %) and for maize, which many elevators settle at 15.0 %.
 */
export const cropTable: readonly CropEntry[] = Object.freeze<CropEntry[]>([
  entry("maize", 56, 15.5, `${official}; ${extension}`, [
    "corn",
    "field corn",
    "grain corn",
    "grain maize",
    "mais",
    "maïs",
  ]),
  entry("soybean", 60, 13, `${official}; ${extension}`, ["soybeans", "soya", "soy", "soya bean", "soya beans"]),
  entry("wheat", 60, 13.5, `${official}; ${extension} (12 to 14 % also used)`, [
    "winter wheat",
    "spring wheat",
    "durum",
  ]),
  entry("grain sorghum", 56, 13, `${official}; ${extension} (14 and 12.5 % also used)`, ["sorghum", "milo"]),
  entry("barley", 48, 14.5, `${official}; ${extension}`, ["winter barley", "spring barley"]),
  entry("oats", 32, 13.5, `${official}; ${extension} (14 % also used)`, ["oat"]),
  entry("rye", 56, 14, `${official}; ${extension}`, ["winter rye"]),
  entry("rice", 45, 13, `${official}; 13 %: ${practice} (12 to 14)`, ["rough rice", "paddy"]),
  entry("canola", 50, 8.5, `50 lb: farm agency reference table; ${extension} (10 % also used)`, [
    "rapeseed",
    "oilseed rape",
    "rape",
  ]),
  entry("sunflower", null, 10, `sold by weight; ${extension}`, ["sunflowers"]),
  entry("triticale", 56, 14, `${practice} (48 to 56 lb)`, []),
  entry("flax", 56, 9, practice, ["linseed"]),
  entry("proso millet", 56, 13, practice, ["millet"]),
  entry("dry bean", 60, 15, practice, ["dry beans", "edible bean", "beans"]),
  entry("field pea", 60, 14, practice, ["pea", "peas", "field peas"]),
  entry("lupin", 60, 13, practice, ["lupins"]),
]);

/**
 * The crop of that name or alias, whatever its case; null when the table has none.
 *
 * @example
 * findCrop("Corn")?.name; // => "maize"
 * findCrop("tulip"); // => null
 */
export function findCrop(name: string): CropEntry | null {
  checkShape(name, "name", "text", "invalid-option");
  const wanted = name
    .trim()
    .toLowerCase()
    .replace(/[\s_-]+/g, " ");
  return cropTable.find((crop) => crop.name === wanted || crop.aliases.includes(wanted)) ?? null;
}

function entry(
  name: string,
  poundsPerBushel: number | null,
  standardMoisture: number,
  source: string,
  aliases: string[],
): CropEntry {
  return Object.freeze({ name, poundsPerBushel, standardMoisture, source, aliases: Object.freeze(aliases) });
}
