import type { TrialAnalysis } from "../analyze/result.ts";
import type { AdjustedDifference, EffectTests, HybridsCompared, HybridsTogether } from "../analyze/togetherResult.ts";
import { intervalCell } from "./intervalWords.ts";
import { mixedWords } from "./mixedWords.ts";
import { fixed, listText, percentage, pValue, significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { textTable } from "./textTable.ts";
import type { Words } from "./words.ts";

const PAIRS_LISTED = 5;

/** Hybrids in one model: what interacts, which pays best, what each would be after borrowing from the rest, and sure differences. */
export function togetherText(analysis: TrialAnalysis, words: Words, width: number): string[] {
  const { together } = analysis;
  if (together === null || analysis.hybrids.length < 2) return [];
  if (together.compared.kind === "withheld" && together.shrunken.kind === "withheld") return [];
  const lines = [
    ...testLines(together, width),
    ...rankLines(analysis, together, words, width),
    ...shrunkenLines(analysis, together, words, width),
    ...(together.compared.kind === "compared" ? pairLines(analysis, together.compared, words, width) : []),
  ];
  return lines.length === 0 ? [] : ["Hybrids in one model", "", ...lines];
}

const designWords = {
  "completely-randomised": "plots fully randomised",
  "randomised-complete-block": "randomised blocks",
  "split-plot": "split plot",
} as const;

/** Each interaction once, under whichever order of names the method gives it. */
const questions: readonly { readonly sources: readonly string[]; readonly yes: string; readonly no: string }[] = [
  {
    sources: ["density x hybrid", "hybrid x density"],
    yes: "hybrids respond differently to density",
    no: "no sign that hybrids respond differently to density",
  },
  {
    sources: ["density x environment", "environment x density"],
    yes: "the response to density differs between environments",
    no: "no sign that the response to density differs between environments",
  },
  {
    sources: ["hybrid x environment", "environment x hybrid"],
    yes: "hybrids rank differently from environment to environment",
    no: "no sign that hybrids rank differently between environments",
  },
];

function testLines({ tests }: HybridsTogether, width: number): string[] {
  if (tests.kind === "withheld") return [...wrapText(`No tests: ${plainText(tests.reason)}.`, width), ""];
  const rows = questions.flatMap(({ sources, yes, no }) => {
    const found = tests.tests.find(({ source }) => sources.includes(source));
    if (found === undefined || found.p === null) return [];
    return [[sources[0], testCell(found), pValue(found.p), found.p < 0.05 ? yes : no]];
  });
  if (rows.length === 0) return [];
  const layout =
    tests.design === null
      ? `${tests.evidence.charAt(0).toUpperCase()}${tests.evidence.slice(1)}.`
      : `Layout: ${designWords[tests.design]} (${plainText(tests.evidence)}).`;
  return [
    "What interacts",
    "",
    ...textTable(
      [
        { heading: "Effect", align: "left" },
        { heading: "Test", align: "left" },
        { heading: "p", align: "left" },
        { heading: "In words", align: "left" },
      ],
      rows,
      width,
    ),
    "",
    ...wrapText(layout, width),
    "",
  ];
}

function testCell({ f, df1, df2, against }: EffectTests["tests"][number]): string {
  if (f === null) return against.replace(/[\d.]+$/, (value) => significant(Number(value), 4));
  return `F ${significant(f, 3)} on ${fixed(df1, 0)} and ${df2 === null ? "?" : significant(df2, 3)}`;
}

function rankLines(analysis: TrialAnalysis, { compared }: HybridsTogether, words: Words, width: number): string[] {
  if (compared.kind === "withheld")
    return [...wrapText(`Hybrids not compared: ${plainText(compared.reason)}.`, width), ""];
  const level = significant(100 * analysis.settings.level, 4);
  const economic = compared.target === "economic";
  const say = mixedWords(analysis, words, economic);
  const rows = compared.hybrids.map(({ hybrid, optimum, flex, probabilityBest, meanRank }) => [
    plainText(hybrid),
    percentage(probabilityBest),
    fixed(meanRank, 1),
    say.best(optimum),
    say.range(optimum),
    words.yield(optimum.yield),
    flex === null || flex.score === null ? "-" : fixed(flex.score, 0),
    flex?.interval == null ? "" : intervalCell(flex.interval, (score) => fixed(score, 0)),
  ]);
  const goal = compared.rankedBy === "return" ? "leaves most after seed" : "yields most";
  return [
    `Which hybrid ${goal}, in ${say.unit}`,
    "",
    ...textTable(
      [
        { heading: "\nHybrid", align: "left" },
        { heading: "Chance of\nbeing best", align: "right" },
        { heading: "Mean\nrank", align: "right" },
        { heading: say.inSeeds ? "Best\nrate" : "Best\nat", align: "left" },
        { heading: `\n${level} % range`, align: "left" },
        { heading: `Yield\n${words.yieldUnit}`, align: "right" },
        { heading: "Flex\nscore", align: "right" },
        { heading: `\n${level} %`, align: "left" },
      ],
      rows,
      width,
    ),
    "",
    ...wrapText(
      `Each hybrid stands at its own best ${say.inSeeds ? "rate" : words.place}. All share one model here, each with ${compared.curve === "quadratic" ? "a quadratic" : "a straight line"} of its own, so that those grown in different places stand on one footing; figures differ a little from the hybrid's own section, where the curve was chosen.`,
      width,
    ),
    "",
  ];
}

function shrunkenLines(analysis: TrialAnalysis, { shrunken }: HybridsTogether, words: Words, width: number): string[] {
  if (shrunken.kind === "withheld" && analysis.hybrids.length < 3) return [];
  if (shrunken.kind === "withheld")
    return [...wrapText(`No borrowing between hybrids: ${plainText(shrunken.reason)}.`, width), ""];
  const level = significant(100 * analysis.settings.level, 4);
  const say = mixedWords(analysis, words, shrunken.target === "economic");
  const rows = shrunken.hybrids.map(({ hybrid, environments, raw, shrunken: drawn, shrinkage }) => [
    plainText(hybrid),
    fixed(environments, 0),
    raw === null ? "-" : say.best(raw),
    raw === null ? "" : say.range(raw),
    say.best(drawn),
    say.range(drawn),
    `${fixed(100 * shrinkage.slope, 0)} %`,
  ]);
  return [
    `Best ${say.inSeeds ? "rate" : words.place}, own and drawn in, in ${say.unit}`,
    "",
    ...textTable(
      [
        { heading: "\nHybrid", align: "left" },
        { heading: "\nPlaces", align: "right" },
        { heading: "Own\nplots", align: "left" },
        { heading: `\n${level} % range`, align: "left" },
        { heading: "Drawn\nin", align: "left" },
        { heading: `\n${level} % range`, align: "left" },
        { heading: "Slope drawn\nin by", align: "right" },
      ],
      rows,
      width,
    ),
    "",
    ...wrapText(
      "Drawn in: moved towards the other hybrids, those with few plots most. For a hybrid picked because it looked best or worst, go by the figure drawn in: picking exaggerates.",
      width,
    ),
    "",
  ];
}

function pairLines(analysis: TrialAnalysis, compared: HybridsCompared, words: Words, width: number): string[] {
  const alpha = 1 - analysis.settings.level;
  const what = compared.target === "economic" ? "best-paying" : "highest-yielding";
  const said = (
    pairs: readonly AdjustedDifference[],
    name: string,
    show: (value: number) => string,
    higher: string,
  ): string[] => {
    const tested = pairs.filter(({ adjustedP }) => adjustedP !== null);
    if (tested.length === 0) return [];
    const sure = tested
      .filter(({ adjustedP }) => (adjustedP as number) < alpha)
      .sort((a, b) => (a.adjustedP as number) - (b.adjustedP as number));
    const total = `${fixed(tested.length, 0)} pairs`;
    const none = tested.length === 1 ? "the two do not differ surely" : `none of the ${total} differs surely`;
    if (sure.length === 0) return wrapText(`${name}: ${none}.`, width, "  - ", "    ");
    const listed = sure.slice(0, PAIRS_LISTED).map(({ first, second, difference, adjustedP }) => {
      const [a, b] = difference > 0 ? [first, second] : [second, first];
      return `${plainText(a)} ${show(Math.abs(difference))} above ${plainText(b)} (${pValue(adjustedP as number)})`;
    });
    const rest = sure.length > PAIRS_LISTED ? `, and ${fixed(sure.length - PAIRS_LISTED, 0)} more` : "";
    return wrapText(
      `${name}, ${higher}: ${tested.length === 1 ? "" : `${fixed(sure.length, 0)} of ${total}: `}${listText(listed)}${rest}.`,
      width,
      "  - ",
      "    ",
    );
  };
  const lines = [
    ...said(compared.optimumDifferences, `By ${what} ${words.place}`, words.density, words.densityUnit),
    ...said(compared.flexDifferences, "By flex score", (v) => fixed(v, 0), "points"),
    ...said(compared.yieldDifferences, "By yield at the own best density", words.yield, words.yieldUnit),
  ];
  if (lines.length === 0) return [];
  return [
    "Differences between hybrids:",
    "",
    ...lines,
    "",
    ...(analysis.hybrids.length > 2 ? [...wrapText('"Surely" allows for the number of pairs.', width), ""] : []),
  ];
}
