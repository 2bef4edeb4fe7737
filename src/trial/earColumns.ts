import { headerWords } from "./headerWords.ts";

/** What an ear or plant column holds, and the factor that brings it to its unit (kernel mass: mg). */
export type EarColumn =
  | {
      readonly part:
        | "earsPerPlant"
        | "ears"
        | "plants"
        | "rowsPerEar"
        | "kernelsPerRow"
        | "kernelsPerEar"
        | "kernelMass";
      readonly factor: number;
    }
  /** A trait of whole plants, whose unit does not matter to its response to crowding. */
  | { readonly part: "plantTrait" };

const counts: Readonly<Record<string, Exclude<EarColumn["part"], "kernelMass" | "plantTrait">>> = {
  "ears plant": "earsPerPlant",
  "ears by plant": "earsPerPlant",
  "ear number plant": "earsPerPlant",
  epp: "earsPerPlant",
  prolificacy: "earsPerPlant",
  ears: "ears",
  "ears counted": "ears",
  "ear count": "ears",
  "ears sampled": "ears",
  "plants sampled": "plants",
  "sampled plants": "plants",
  "ear plants counted": "plants",
  "plants counted ears": "plants",
  "rows ear": "rowsPerEar",
  "kernel rows": "rowsPerEar",
  "kernel rows ear": "rowsPerEar",
  "ear rows": "rowsPerEar",
  "kernels row": "kernelsPerRow",
  "kernel number row": "kernelsPerRow",
  "kernels ear": "kernelsPerEar",
  "kernel number ear": "kernelsPerEar",
};

const plantTraits: ReadonlySet<string> = new Set(
  "root mass|root dry mass|root weight|root dry weight|plant mass|plant dry mass|plant weight|plant dry weight|stalk mass|stalk weight|stem mass|stem weight|leaf area|ear length|ear diameter|ear girth".split(
    "|",
  ),
);

/** Milligrams of one kernel in one unit of the column: "kernel mass mg", "1000 kernel weight g". */
const kernelMass = /^(?:(1000|thousand|100|hundred) )?(?:kernel|grain|seed) (?:mass|weight)(?: kernel)? (mg|g)$/;
const shortMass = /^(tkw|tgw|tsw|hkw) (g)$/;

/**
 * What a trait column says about ears and plants, by its header; null for any other column. Units are never guessed: a kernel mass counts
 * only when its header names mg or g ("kernel_mass_mg", "thousand_kernel_weight_g").
 *
 * Header words are common practice, no source.
 */
export function earColumn(header: string): EarColumn | null {
  const words = headerWords(header).words.join(" ");
  const part = Object.hasOwn(counts, words) ? counts[words] : undefined;
  if (part !== undefined) return { part, factor: 1 };
  const mass = kernelMass.exec(words) ?? shortMass.exec(words);
  if (mass !== null) {
    const kernels = { 1000: 1000, thousand: 1000, tkw: 1000, tgw: 1000, tsw: 1000, 100: 100, hundred: 100, hkw: 100 };
    const of = mass[1] === undefined ? 1 : kernels[mass[1] as keyof typeof kernels];
    return { part: "kernelMass", factor: (mass[2] === "g" ? 1000 : 1) / of };
  }
  const bare = words.replace(/ (?:g|mg|kg|mm|cm|m|in|m2|cm2|index|lb|oz)(?: plant)?$/, "").replace(/ plant$/, "");
  return plantTraits.has(bare) ? { part: "plantTrait" } : null;
}
