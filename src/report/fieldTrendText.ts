import { noPositions } from "../analyze/fieldTrends.ts";
import type { TrialAnalysis } from "../analyze/result.ts";
import { mixedWords } from "./mixedWords.ts";
import { fixed, significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { textTable } from "./textTable.ts";
import type { Words } from "./words.ts";

export const fieldTitle = "Place in the field";

/** Best density with and without allowance for the place in the field, where plots have positions. */
export function fieldTrendText(analysis: TrialAnalysis, words: Words, width: number): string[] {
  const trends = analysis.together?.fieldTrends;
  if (trends === undefined || (trends.kind === "withheld" && trends.reason === noPositions)) return [];
  if (trends.kind === "withheld")
    return [fieldTitle, "", ...wrapText(`No allowance for the place: ${plainText(trends.reason)}.`, width), ""];
  const level = significant(100 * analysis.settings.level, 4);
  const economic = trends.trends.some(({ target }) => target === "economic");
  const say = mixedWords(analysis, words, economic);
  const rows = trends.trends.flatMap(({ hybrid, environment, outcome }) => {
    if (outcome.kind === "withheld") return [];
    const { naive, adjusted, neighbourCorrelation } = outcome;
    return [
      [
        plainText(hybrid),
        plainText(environment),
        say.best(naive),
        say.range(naive),
        say.best(adjusted),
        say.range(adjusted),
        neighbourCorrelation === null ? "-" : fixed(neighbourCorrelation, 2),
      ],
    ];
  });
  const notes = trends.trends.flatMap(({ hybrid, environment, outcome }) => {
    const name = `${plainText(hybrid)}, ${plainText(environment)}`;
    const texts = outcome.kind === "withheld" ? [`not adjusted: ${outcome.reason}`] : outcome.notes;
    return texts.map((text) => `${name}: ${plainText(text)}.`);
  });
  const table =
    rows.length === 0
      ? []
      : [
          `${economic ? "Best-paying" : "Highest-yielding"} ${say.inSeeds ? "rate" : words.place}, plain and adjusted, in ${say.unit}`,
          "",
          ...textTable(
            [
              { heading: "\nHybrid", align: "left" },
              { heading: "\nEnvironment", align: "left" },
              { heading: "\nPlain", align: "left" },
              { heading: `\n${level} % range`, align: "left" },
              { heading: "\nAdjusted", align: "left" },
              { heading: `\n${level} % range`, align: "left" },
              { heading: "Neighbours\nalike", align: "right" },
            ],
            rows,
            width,
          ),
          "",
          ...wrapText(
            "Plain allows for blocks only; adjusted also for a trend along the plots and for neighbours that resemble each other. The last column is the correlation of neighbouring plots that blocks leave: near 0, read the plain one.",
            width,
          ),
          "",
        ];
  return [
    fieldTitle,
    "",
    ...table,
    ...notes.flatMap((text) => wrapText(text, width, "! ", "  ")),
    ...(notes.length > 0 ? [""] : []),
  ];
}
