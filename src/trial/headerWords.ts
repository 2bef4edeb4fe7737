/** A header brought to plain lower-case words, with the moisture basis it may name ("@ 15.5 %") taken out. */
export interface HeaderWords {
  readonly words: readonly string[];
  readonly moistureBasis: number | null;
}

const basis =
  /(?:(?:@|\bat) *(\d{1,2}(?:[.,]\d{1,2})?)(?: *(?:%|pct|percent))?|(?<![\d.,])(\d{1,2}(?:[.,]\d{1,2})?) *(?:%|pct|percent))(?: *(?:moisture|moist|mc|h2o))?/;
const filler = new Set(["of", "the", "at", "per", "and", "for"]);

/**
 * Splits a header into words: "Yield (t/ha)" gives yield, t, ha; "seeding_rate_k_ac" gives seeding, rate, k, ac.
 * Spaces, underscores, brackets, slashes and capital letters inside a word all separate.
 */
export function headerWords(header: string): HeaderWords {
  let text = header
    .slice(0, 200)
    .normalize("NFKC")
    .replaceAll("_", " ")
    .replace(/(\p{Ll})(\p{Lu})/gu, "$1 $2");
  text = text.toLowerCase();
  const found = basis.exec(text);
  if (found !== null) text = text.replace(found[0], " ");
  text = text
    .replace(/(\d),(\d{3})(?!\d)/g, "$1$2") // 1,000 plants
    .replace(/(^|[^\d])000s?(?!\d)/g, "$11000") // '000 plants
    .replace(/\b(ha|ac|acre|m|ft)\s*\^?\s*[-−]\s*1\b/g, "$1") // ha-1
    .replace(/\b(m|ft)\s*\^?\s*[-−]?\s*2\b/g, "$12") // m-2, m^2
    .replaceAll("%", " pct ")
    .replaceAll("#", " number ");
  const words = (text.match(/[\p{L}\p{N}]+/gu) ?? []).filter((word) => !filler.has(word));
  return { words, moistureBasis: found === null ? null : Number((found[1] ?? found[2])?.replace(",", ".")) };
}
