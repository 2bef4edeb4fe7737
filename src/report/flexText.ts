import type { CurveAnalysis } from "../analyze/result.ts";
import { intervalText } from "./intervalWords.ts";
import { fixed, significant } from "./numberText.ts";
import type { Words } from "./words.ts";

const meaning = {
  "needs plants": "yield follows the plants: thin stands lose yield",
  "partly makes up": "bigger ears partly make up for missing plants",
  "makes up": "bigger ears make up for missing plants",
  crowds: "more plants yield less over this range",
} as const;

/** The flex score in a sentence or two, with its parts below and above the curve's optimum. */
export function flexSentences({ flex: report }: CurveAnalysis, words: Words, level: number): string {
  const { flex, interval, group } = report;
  if (flex.score === null || group === null) return `No flex score: ${flex.reason ?? "it does not exist here"}.`;
  const score = (value: number): string => fixed(value, 0);
  const range = interval === null ? "" : ` (${significant(100 * level, 4)} %: ${intervalText(interval, score)})`;
  const [low, high] = flex.between;
  const each = significant(flex.score / 100, 2);
  const main = `Flex score ${score(flex.score)}${range} between ${words.density(low)} and ${words.density(high)} ${words.densityUnit}, "${group}": ${meaning[group]}. For every 1 % of plants fewer, those left yield ${each} % more each.`;
  if (flex.left === null || flex.right === null) return main;
  return `${main} Below the curve's own optimum the score is ${score(flex.left)}, above it ${score(flex.right)}${flex.right > 100 ? " (crowding: plants added there cost yield)" : ""}.`;
}
