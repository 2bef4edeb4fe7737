import { checkShape, type Shape } from "../core/checkShape.ts";
import type { Issue } from "../core/issue.ts";
import type { CurveCheck, HybridCheck, TrialCheck } from "../trial/checkTrial.ts";
import type { Ability } from "../trial/estimable.ts";
import { abilityLines } from "./abilityText.ts";
import { issueCounts, issueLines } from "./issueText.ts";
import { countOf, fixed } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { textTable } from "./textTable.ts";
import { type DensityWords, densityWords } from "./words.ts";

export interface CheckTextOptions {
  /** Columns; default 100. */
  readonly width?: number;
}

/** What `CheckTextOptions` must look like. */
export const checkTextOptionsShape: { readonly [property: string]: Shape } = { width: "number?" };

/**
 * What a trial can tell, judged from its design alone, and the problems of its file, as plain text.
 *
 * @param check - from `checkTrial`
 * @param issues - from `readTrial`
 * @returns lines of at most `width` columns, each with its line end
 * @example
 * const { trial, issues } = readTrial("hybrid,block,stand_k_ac,yield_bu_ac\nA,1,20,170\nA,1,30,200\nA,2,20,175\nA,2,30,198\n");
 * checkText(checkTrial(trial), issues).startsWith("What this trial can tell"); // => true
 */
export function checkText(check: TrialCheck, issues: readonly Issue[], options: CheckTextOptions = {}): string {
  checkShape(check, "check", "standcurve/trial-check/1");
  checkShape(issues, "issues", "objects");
  checkShape(options, "options", checkTextOptionsShape, "invalid-option");
  const width = options.width ?? 100;
  const highest = check.hybrids.reduce((most, { pooled }) => Math.max(most, pooled.highest ?? 0), 0);
  const words = densityWords(check.densityUnit, check.densityAxis, highest);
  const title = "What this trial can tell";
  const limits = abilityLines(check, width);
  const problems = issueLines(issues, width, Number.POSITIVE_INFINITY);
  const lines = [
    title,
    "=".repeat(title.length),
    "",
    ...wrapText(`${opening(check, words)} In the file: ${issueCounts(issues)}.`, width),
    "",
    ...(check.hybrids.length === 0 ? [] : [...hybridTable(check.hybrids, words, width), ""]),
    ...(limits.length === 0 ? [] : ["What it cannot tell, and where to be careful", "", ...limits, ""]),
    ...(problems.length === 0 ? [] : ["Problems found in the file", "", ...problems, ""]),
  ];
  while (lines[lines.length - 1] === "") lines.pop();
  return `${lines.join("\n")}\n`;
}

function opening(
  { plots, excludedPlots, plotsWithoutYield, hybrids, commonRange }: TrialCheck,
  words: DensityWords,
): string {
  const out = [
    excludedPlots === 0 ? "none left out" : `${fixed(excludedPlots, 0)} left out`,
    ...(plotsWithoutYield === 0 ? [] : [`${fixed(plotsWithoutYield, 0)} of them without yield`]),
  ];
  const common =
    hybrids.length < 2
      ? ""
      : commonRange === null
        ? " There is no density that all hybrids share."
        : ` All hybrids were grown between ${words.density(commonRange.lowest)} and ${words.density(commonRange.highest)} ${words.densityUnit}: there their flex scores can be compared.`;
  return `${countOf(plots, "plot")} of ${countOf(hybrids.length, "hybrid")}, ${out.join(", ")}. Density is the ${words.place}.${common}`;
}

function hybridTable(hybrids: readonly HybridCheck[], words: DensityWords, width: number): string[] {
  const rows = hybrids.map(({ hybrid, pooled, environments, standability }) => {
    const bent = pooled.families.find(({ family }) => family === "quadratic");
    return [
      plainText(hybrid),
      fixed(pooled.plots, 0),
      fixed(environments.length, 0),
      fixed(pooled.blocks, 0),
      fixed(pooled.densities, 0),
      range(pooled, words),
      bent === undefined ? "-" : answer(bent),
      answer(pooled.interval),
      answer(pooled.lackOfFit),
      standability.length === 0
        ? "not counted"
        : [...new Set(standability.map(({ limit }) => answer(limit)))].join(", "),
    ];
  });
  return textTable(
    [
      { heading: "\nHybrid", align: "left" },
      { heading: "\nPlots", align: "right" },
      { heading: "Envi-\nronm.", align: "right" },
      { heading: "\nBlocks", align: "right" },
      { heading: "Densi-\nties", align: "right" },
      { heading: words.densityUnit.replace(" ", "\n"), align: "left" },
      { heading: "Bent\ncurves", align: "left" },
      { heading: "Range for\noptimum", align: "left" },
      { heading: "Lack\nof fit", align: "left" },
      { heading: "Lodging\nlimit", align: "left" },
    ],
    rows,
    width,
  );
}

function range({ lowest, highest }: CurveCheck, words: DensityWords): string {
  return lowest === null || highest === null ? "-" : `${words.density(lowest)} to ${words.density(highest)}`;
}

function answer({ possible }: Ability): string {
  return possible === "limited" ? "with care" : possible;
}
