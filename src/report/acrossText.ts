import { FEWEST_RANDOM_ENVIRONMENTS } from "../analyze/acrossEnvironments.ts";
import type { AcrossEnvironments, EnvironmentResponse } from "../analyze/environmentsResult.ts";
import type { HybridAnalysis, TrialAnalysis } from "../analyze/result.ts";
import { type MixedWords, mixedWords } from "./mixedWords.ts";
import { countOf, fixed, significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { textTable } from "./textTable.ts";
import type { Words } from "./words.ts";

/** One hybrid over its environments: the average field, a field still to come, low and high yield levels, the yield goal. */
export function acrossText(
  analysis: TrialAnalysis,
  { pooled, acrossEnvironments: across }: HybridAnalysis,
  words: Words,
  width: number,
): string[] {
  if (across === null || pooled.kind === "not-estimable") return [];
  const { response } = across;
  const goal = goalSentence(analysis, across, words);
  if (response.kind === "withheld") {
    // Why environments are fixed is said once for all hybrids.
    const own = across.treatment === "random" ? `No response over environments: ${plainText(response.reason)}.` : "";
    const text = [own, goal].filter((one) => one !== "");
    return text.length === 0 ? [] : ["Over environments", "", ...text.flatMap((one) => [...wrapText(one, width), ""])];
  }
  const paragraphs = [averageSentences(analysis, across, response, words), spreadSentence(response, words)];
  return [
    "Over environments",
    "",
    ...paragraphs.flatMap((text) => [...wrapText(text, width), ""]),
    ...levelTable(analysis, response, words, width),
    ...(goal === "" ? [] : [...wrapText(goal, width), ""]),
    ...goalTable(analysis, across, words, width),
  ];
}

function averageSentences(
  analysis: TrialAnalysis,
  { reason }: AcrossEnvironments,
  response: EnvironmentResponse,
  words: Words,
): string {
  const level = significant(100 * analysis.settings.level, 4);
  const { told } = mixedWords(analysis, words, false);
  const { agronomic, economic, newEnvironment } = response;
  const pays = economic === null ? "" : ` ${told(economic, level)} pays best on average over such fields.`;
  const most = ` Yield is highest at ${told(agronomic, level)}.`;
  const at = newEnvironment.kind === "predicted" ? newEnvironment.yields.at(-1) : undefined;
  const next =
    newEnvironment.kind === "withheld"
      ? ` Nothing is said about a field still to come: ${plainText(newEnvironment.reason)}.`
      : at === undefined
        ? ""
        : ` A field still to come would yield ${words.yield(at.interval.lower as number)} to ${words.yield(at.interval.upper as number)} ${words.yieldUnit} at ${words.density(at.density)} ${words.densityUnit} (${level} % range; ${words.yield(at.yield)} on average).`;
  return `${plainText(reason)}.${pays}${most}${next}`;
}

/** How environments, blocks and plots scatter, and what the fit's status means. */
function spreadSentence(
  { varianceComponents, statusWords, curve, scaling }: EnvironmentResponse,
  words: Words,
): string {
  const sd = (term: RegExp): number | null => {
    const found = varianceComponents.find(
      (one) => term.test(one.term) && one.column === "intercept" && one.withColumn === null,
    );
    return found?.sdOrCorrelation ?? null;
  };
  const parts = [
    ["environments", sd(/^environment/)],
    ["blocks", sd(/^block/)],
    ["plots", sd(/^residual/)],
  ].flatMap(([name, value]) => (value === null ? [] : [`${name} ${words.yield(value as number)}`]));
  return `Standard deviations at ${words.density(scaling.centre)} ${words.densityUnit}, ${words.yieldUnit}: ${parts.join(", ")}. ${statusWords.charAt(0).toUpperCase()}${statusWords.slice(1)}. The curve is ${curve === "quadratic" ? "a quadratic" : "a straight line"} here, the form whose shape may differ from field to field.`;
}

function levelTable(analysis: TrialAnalysis, response: EnvironmentResponse, words: Words, width: number): string[] {
  const { yieldClasses, referenceDensity } = response;
  if (yieldClasses.kind === "withheld")
    return [...wrapText(`No table by yield level: ${plainText(yieldClasses.reason)}.`, width), ""];
  const level = significant(100 * analysis.settings.level, 4);
  const pays: MixedWords = mixedWords(analysis, words, true);
  const most: MixedWords = mixedWords(analysis, words, false);
  const priced = response.economic !== null;
  const rows = yieldClasses.classes.map(({ label, environments, meanLevel, agronomic, economic }) => [
    label,
    words.yield(meanLevel),
    fixed(environments.length, 0),
    ...(economic === null ? [] : [pays.best(economic), pays.range(economic)]),
    most.best(agronomic),
    most.range(agronomic),
  ]);
  const columns = [
    { heading: "\nFields", align: "left" },
    { heading: `Yield\n${words.yieldUnit}`, align: "right" },
    { heading: "\nPlaces", align: "right" },
    ...(priced
      ? [
          { heading: pays.inSeeds ? "Pays best\n(seeds)" : "Pays best\nat", align: "left" } as const,
          { heading: `\n${level} % range`, align: "left" } as const,
        ]
      : []),
    { heading: priced && pays.inSeeds ? "Yields most\n(stand)" : "Yields most\nat", align: "left" },
    { heading: `\n${level} % range`, align: "left" },
  ] as const;
  const units = priced && pays.inSeeds ? `seeds in ${pays.unit}, stands in ${most.unit}` : `in ${most.unit}`;
  return [
    `By yield level, ${units}`,
    "",
    ...textTable(columns, rows, width, "  "),
    "",
    ...wrapText(`Yields are those expected at ${words.density(referenceDensity)} ${words.densityUnit}.`, width),
    "",
  ];
}

/** The best density at several yield goals; the one asked for is marked. */
function goalTable(analysis: TrialAnalysis, { goalLevels }: AcrossEnvironments, words: Words, width: number): string[] {
  if (goalLevels.length === 0) return [];
  const level = significant(100 * analysis.settings.level, 4);
  const pays: MixedWords = mixedWords(analysis, words, true);
  const most: MixedWords = mixedWords(analysis, words, false);
  const priced = goalLevels.every(({ economic }) => economic !== null);
  const rows = goalLevels.map(({ yieldGoal, extrapolated, agronomic, economic }) => [
    `${significant(yieldGoal, 5)}${yieldGoal === analysis.settings.yieldGoal ? " (asked)" : ""}${extrapolated ? " (not seen)" : ""}`,
    ...(priced && economic !== null ? [pays.best(economic), pays.range(economic)] : []),
    most.best(agronomic),
    most.range(agronomic),
    words.yield(agronomic.yield),
  ]);
  const units = priced && pays.inSeeds ? `seeds in ${pays.unit}, stands in ${most.unit}` : `in ${most.unit}`;
  return [
    `At several yield goals, ${units}`,
    "",
    ...textTable(
      [
        { heading: `Goal\n${words.yieldUnit}`, align: "left" },
        ...(priced
          ? [
              { heading: pays.inSeeds ? "Pays best\n(seeds)" : "Pays best\nat", align: "left" } as const,
              { heading: `\n${level} % range`, align: "left" } as const,
            ]
          : []),
        { heading: priced && pays.inSeeds ? "Yields most\n(stand)" : "Yields most\nat", align: "left" },
        { heading: `\n${level} % range`, align: "left" },
        { heading: `Highest yield\n${words.yieldUnit}`, align: "right" },
      ],
      rows,
      width,
      "  ",
    ),
    "",
  ];
}

/** What a yield goal calls for, or why that is not said. */
export function goalSentence(
  analysis: TrialAnalysis,
  { yieldGoal, treatment, environments }: AcrossEnvironments,
  words: Words,
): string {
  if (yieldGoal === null) return "";
  const goal = `${significant(yieldGoal.yieldGoal, 5)} ${words.yieldUnit}`;
  const seen = (levels: readonly [number, number]): string =>
    `${words.yield(levels[0])} to ${words.yield(levels[1])} ${words.yieldUnit}`;
  if (yieldGoal.kind === "refused") {
    const { observedLevels } = yieldGoal;
    if (treatment !== "random")
      return `Yield goal ${goal}: no answer, for ${countOf(environments, "environment")} cannot show how the response changes with the yield level (${FEWEST_RANDOM_ENVIRONMENTS} are needed).`;
    const outside =
      observedLevels !== null &&
      (yieldGoal.yieldGoal < observedLevels[0] || yieldGoal.yieldGoal > observedLevels[1]) &&
      yieldGoal.reason.includes("outside");
    return outside
      ? `Yield goal ${goal}: no answer, for it lies outside the levels of the environments seen, ${seen(observedLevels)}. To have one all the same, ask for it beyond the levels seen.`
      : `Yield goal ${goal}: no answer, for ${plainText(yieldGoal.reason)}.`;
  }
  const level = significant(100 * analysis.settings.level, 4);
  const { told } = mixedWords(analysis, words, false);
  const { agronomic, economic, extrapolated, referenceDensity, observedLevels, slopePerYield } = yieldGoal;
  const pays = economic === null ? "" : `${told(economic, level)} pays best, and `;
  const same =
    slopePerYield === null
      ? " The best density does not change with the yield level as far as these data can tell."
      : "";
  const beyond = extrapolated
    ? ` Careful: this goal lies beyond the levels seen (${seen(observedLevels)}); nothing was tested there.`
    : "";
  return `Yield goal ${goal} (meant at ${words.density(referenceDensity)} ${words.densityUnit}): ${pays}yield is highest at ${told(agronomic, level)}.${same}${beyond}`;
}
