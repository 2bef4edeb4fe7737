import type { TrialAnalysis } from "../analyze/result.ts";
import { fieldTitle } from "./fieldTrendText.ts";
import { fixed } from "./numberText.ts";
import { plainText } from "./plainText.ts";
import { plantTitle } from "./plantText.ts";
import { type TextBlock, textBlocks, unbroken } from "./textBlocks.ts";
import { trialText } from "./trialText.ts";

/** A report as parts: what the page and the Markdown show, in their order. */
export interface ReportDocument {
  readonly title: string;
  /** The answer first, then what was tried. */
  readonly summary: readonly TextBlock[];
  /** Tables over all hybrids. */
  readonly glance: readonly TextBlock[];
  readonly hybrids: readonly { readonly name: string; readonly id: string; readonly blocks: readonly TextBlock[] }[];
  /** Comparison, plots left out, problems, limits, cautions; each begins with its heading. */
  readonly sections: readonly { readonly title: string; readonly id: string; readonly blocks: readonly TextBlock[] }[];
  readonly provenance: readonly (readonly [string, string])[];
}

/** Titles of the text report that open a section over all hybrids. */
export const sectionTitles: readonly string[] = [
  "Many environments",
  "Hybrids in one model",
  "Flex scores compared",
  plantTitle,
  fieldTitle,
  "Plots left out",
  "Problems found in the file",
  "What this trial cannot tell",
  "Read with care",
];

/**
 * Takes the text report apart; every word of a page comes from there.
 *
 * @param drawn - titles of sections that have charts; those without a word of their own come first
 */
export function reportDocument(
  analysis: TrialAnalysis,
  currency: string,
  drawn: readonly string[] = [],
): ReportDocument {
  const blocks = textBlocks(trialText(analysis, { width: unbroken, detail: true, currency }));
  const [first, ...rest] = blocks;
  const starts = rest.flatMap((block, i) =>
    block.kind === "heading" && (block.level === 2 || sectionTitles.includes(block.text)) ? [i] : [],
  );
  const opening = rest.slice(0, starts[0] ?? rest.length);
  const glanceAt = opening.findIndex((block) => block.kind === "heading");
  const head = glanceAt < 0 ? opening : opening.slice(0, glanceAt);
  // The last paragraph says who made the report; the table of provenance says it in full.
  const parts = starts.map((from, k) => {
    const to = starts[k + 1] ?? rest.length;
    const own = rest.slice(from + 1, to).filter((block) => !(block.kind === "paragraph" && to === rest.length));
    const heading = rest[from] as Extract<TextBlock, { kind: "heading" }>;
    return { heading, blocks: own };
  });
  const hybrids = parts.filter(({ heading }) => heading.level === 2);
  const told = parts
    .filter(({ heading }) => heading.level === 3)
    .map(({ heading, blocks: own }) => ({ title: heading.text, blocks: own }));
  const wordless = drawn.filter((title) => !told.some((section) => section.title === title));
  return {
    title: first?.kind === "heading" ? first.text : "",
    summary: answerFirst(head),
    glance: glanceAt < 0 ? [] : opening.slice(glanceAt),
    hybrids: hybrids.map(({ heading, blocks: own }, i) => ({ name: heading.text, id: `hybrid-${i + 1}`, blocks: own })),
    sections: [...wordless.map((title) => ({ title, blocks: [] })), ...told].map((section, i) => ({
      ...section,
      id: `part-${i + 1}`,
    })),
    provenance: provenance(analysis),
  };
}

/** The text report leads up to its answer; a page opens with it. */
function answerFirst(blocks: readonly TextBlock[]): TextBlock[] {
  const answer = blocks.findIndex(
    (block) =>
      block.kind === "paragraph" && /^(?:The (?:seeding rates?|stands?) that|These plots|No hybrid)/.test(block.text),
  );
  return answer < 1 ? [...blocks] : [...blocks.slice(answer), ...blocks.slice(0, answer)];
}

function provenance({ version, settings, inputHash, trial }: TrialAnalysis): (readonly [string, string])[] {
  const { prices, ...options } = settings;
  const shown = (value: unknown): string =>
    value === null
      ? "not given"
      : Array.isArray(value)
        ? value.join(", ")
        : typeof value === "object"
          ? JSON.stringify(value)
          : String(value);
  return [
    ["Made by", `standcurve ${version}`],
    ["Input, SHA-256", inputHash ?? "given as rows, not as a file"],
    ["Plots read, used", `${fixed(trial.plotsRead, 0)}, ${fixed(trial.plotsUsed, 0)}`],
    ["Crop", plainText(trial.crop.name)],
    ["Units", `${trial.densityUnit}, ${trial.yieldUnit}`],
    ...Object.entries(options).map(([name, value]) => [optionWords[name] ?? name, shown(value)] as const),
    ...(prices === null
      ? [["Prices", "not given"] as const]
      : Object.entries(prices).map(([name, value]) => [optionWords[name] ?? name, shown(value)] as const)),
  ];
}

const optionWords: Readonly<Record<string, string>> = {
  families: "Curves compared",
  level: "Confidence level",
  seed: "Seed of random numbers",
  resamples: "Resamples for each curve",
  between: "Densities of the flex score",
  nearBestShare: "Nearly as good, share of the best yield",
  nearBestLoss: "Nearly as good, money per area",
  missBy: "Size of a miss, density units",
  byEnvironment: "Each environment by itself too",
  standability: "Standability looked at",
  toleratedLodging: "Lodged share tolerated",
  lossShare: "Share of a lodged plant's grain that is lost",
  mixedModels: "Mixed models over environments and hybrids",
  yieldGoal: "Yield goal",
  extrapolateYieldGoal: "Yield goal beyond the levels seen answered",
  grainPrice: "Grain price",
  seedCostPerThousand: "Seed cost per 1,000",
  yieldCost: "Costs that grow with yield",
};
