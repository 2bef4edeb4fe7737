import type { TrialAnalysis } from "../analyze/result.ts";
import { checkShape, type Shape } from "../core/checkShape.ts";
import { abilityLines } from "./abilityText.ts";
import { comparisonText } from "./comparisonText.ts";
import { environmentsText } from "./environmentsText.ts";
import { fieldTrendText } from "./fieldTrendText.ts";
import { glanceText } from "./glanceText.ts";
import { headText } from "./headText.ts";
import { hybridText } from "./hybridText.ts";
import { issueLines } from "./issueText.ts";
import { fixed } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { plantText } from "./plantText.ts";
import { standTable } from "./standabilityText.ts";
import { standHeadText } from "./standVerdict.ts";
import { togetherText } from "./togetherText.ts";
import { wordsFor } from "./words.ts";

export interface TrialTextOptions {
  /** Columns; default 100. */
  readonly width?: number;
  /** A section for every hybrid, with all figures; default: short sections when there are at most eight hybrids. */
  readonly detail?: boolean;
  /** "$", "EUR" or nothing (default). */
  readonly currency?: string;
}

/** What `TrialTextOptions` must look like. */
export const trialTextOptionsShape: { readonly [property: string]: Shape } = {
  width: "number?",
  detail: "flag?",
  currency: "text?",
};

const FEW_HYBRIDS = 8;
const ISSUES_OF_A_KIND = 10;
const PLOTS_LISTED = 20;

/**
 * The whole result as plain text for the person who advises the grower: the answer, a line for each hybrid, each hybrid in
 * words, the comparison, problems of the file, cautions and where the figures come from. Nothing is computed here.
 *
 * @returns lines of at most `width` columns, each with its line end
 * @example
 * trialText(analysis).includes("Amber 12"); // => true
 */
export function trialText(analysis: TrialAnalysis, options: TrialTextOptions = {}): string {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(options, "options", trialTextOptionsShape, "invalid-option");
  const width = options.width ?? 100;
  const words = wordsFor(analysis, options.currency);
  const sections = options.detail ?? analysis.hybrids.length <= FEW_HYBRIDS;
  const lines = [
    ...headText(analysis, words, width),
    ...standHeadText(analysis, words, width),
    ...glanceText(analysis, words, width, sections),
    ...standTable(analysis, words, width),
    ...(sections
      ? analysis.hybrids.flatMap((hybrid) => hybridText(analysis, hybrid, words, width, options.detail === true))
      : []),
    ...environmentsText(analysis, words, width),
    ...togetherText(analysis, words, width),
    ...comparisonText(analysis, words, width),
    ...plantText(analysis, width),
    ...fieldTrendText(analysis, words, width),
    ...excludedLines(analysis, width),
    ...section("Problems found in the file", issueLines(analysis.issues, width, ISSUES_OF_A_KIND)),
    ...section("What this trial cannot tell", abilityLines(analysis.check, width)),
    ...section(
      "Read with care",
      analysis.cautions.flatMap((caution) => wrapText(plainText(caution), width, "  - ", "    ")),
    ),
    ...provenance(analysis, width),
  ];
  return `${lines.join("\n")}\n`;
}

function section(title: string, lines: readonly string[]): string[] {
  return lines.length === 0 ? [] : [title, "", ...lines, ""];
}

function excludedLines({ trial }: TrialAnalysis, width: number): string[] {
  const listed = trial.excluded
    .slice(0, PLOTS_LISTED)
    .flatMap(({ row, plot, reason }) =>
      wrapText(
        `line ${row}${plot === null ? "" : `, plot ${plainText(plot)}`}: ${plainText(reason)}`,
        width,
        "  - ",
        "    ",
      ),
    );
  const rest = trial.excluded.length - PLOTS_LISTED;
  if (rest > 0) listed.push(`    and ${fixed(rest, 0)} more`);
  return section("Plots left out", listed);
}

function provenance({ version, settings, inputHash }: TrialAnalysis, width: number): string[] {
  const made = [
    `standcurve ${version}`,
    `curves compared: ${settings.families.join(", ")}`,
    settings.resamples === 0
      ? "no resampling"
      : `${fixed(settings.resamples, 0)} resamples for each curve, seed ${settings.seed}`,
    inputHash === null ? "input given as rows" : `input SHA-256 ${inputHash}`,
  ];
  return wrapText(`Made by ${made.join("; ")}. The same file, options and version give the same figures.`, width);
}
