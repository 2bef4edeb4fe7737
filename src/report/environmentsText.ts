import { FEWEST_RANDOM_ENVIRONMENTS } from "../analyze/acrossEnvironments.ts";
import type { AcrossEnvironments, EnvironmentResponse } from "../analyze/environmentsResult.ts";
import type { TrialAnalysis } from "../analyze/result.ts";
import { goalSentence } from "./acrossText.ts";
import { mixedWords } from "./mixedWords.ts";
import { fixed, listText, significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { textTable } from "./textTable.ts";
import type { Words } from "./words.ts";

interface Grown {
  readonly hybrid: string;
  readonly across: AcrossEnvironments;
}

/** All hybrids over their environments: how environments are treated and why, and what low and high yielding fields call for. */
export function environmentsText(analysis: TrialAnalysis, words: Words, width: number): string[] {
  const grown = analysis.hybrids.flatMap(({ hybrid, acrossEnvironments, pooled }): Grown[] =>
    acrossEnvironments === null || pooled.kind === "not-estimable" ? [] : [{ hybrid, across: acrossEnvironments }],
  );
  if (grown.length === 0 || analysis.trial.environments.length < 2) return [];
  const lines = [
    ...reasons(grown).flatMap((text) => wrapText(text, width)),
    "",
    ...levelsTable(analysis, grown, words, width),
    ...stabilityLines(analysis, words, width),
  ];
  return ["Many environments", "", ...lines];
}

/** One sentence for each way environments are treated. */
function reasons(grown: readonly Grown[]): string[] {
  const of = (treatment: AcrossEnvironments["treatment"]): Grown[] =>
    grown.filter(({ across }) => across.treatment === treatment);
  const counts = (some: readonly Grown[]): number[] => some.map(({ across }) => across.environments);
  const same = new Set(counts(grown)).size === 1;
  if (same) return [`${grown.length > 1 ? "All hybrids: " : ""}${grown[0].across.reason}.`];
  const names = (some: readonly Grown[]): string =>
    listText(some.map(({ hybrid, across }) => `${plainText(hybrid)} (${fixed(across.environments, 0)})`));
  const random = of("random");
  const few = grown.filter(({ across }) => across.treatment !== "random");
  return [
    ...(random.length === 0
      ? []
      : [`Grown in enough environments to take them as a sample of those to come (random): ${names(random)}.`]),
    ...(few.length === 0
      ? []
      : [
          `In fewer than ${FEWEST_RANDOM_ENVIRONMENTS}, too few to estimate how environments vary, so they are fixed and the pooled curve speaks for them alone: ${names(few)}.`,
        ]),
  ];
}

function levelsTable(analysis: TrialAnalysis, grown: readonly Grown[], words: Words, width: number): string[] {
  const estimated = grown.flatMap(({ hybrid, across }) =>
    across.response.kind === "estimated" ? [{ hybrid, across, response: across.response }] : [],
  );
  const refused = grown.flatMap(({ hybrid, across }) =>
    across.treatment === "random" && across.response.kind === "withheld"
      ? wrapText(`${plainText(hybrid)}: ${plainText(across.response.reason)}.`, width)
      : [],
  );
  if (estimated.length === 0) return [...refused, ...goalLines(analysis, grown, words, width)];
  const level = significant(100 * analysis.settings.level, 4);
  const priced = estimated.every(({ response }) => response.economic !== null);
  const say = mixedWords(analysis, words, priced);
  const best = <
    T extends {
      readonly agronomic: EnvironmentResponse["agronomic"];
      readonly economic: EnvironmentResponse["economic"];
    },
  >(
    one: T,
  ) => (priced ? one.economic : null) ?? one.agronomic;
  const asked = analysis.settings.yieldGoal;
  const rows = estimated.map(({ hybrid, across, response }) => {
    const classes = response.yieldClasses.kind === "classes" ? response.yieldClasses.classes : [];
    const of = (label: string): string => {
      const found = classes.find((one) => one.label === label);
      return found === undefined ? "" : say.best(best(found));
    };
    const goal = across.yieldGoal;
    return [
      plainText(hybrid),
      fixed(across.environments, 0),
      say.best(best(response)),
      say.range(best(response)),
      of("low"),
      of("middle"),
      of("high"),
      ...(asked === null
        ? []
        : goal?.kind === "estimated"
          ? [say.best(best(goal)), say.range(best(goal))]
          : ["no answer", ""]),
    ];
  });
  const what = priced ? "What pays best" : "What yields most";
  return [
    `${what} by yield level, in ${say.unit}`,
    "",
    ...textTable(
      [
        { heading: "\nHybrid", align: "left" },
        { heading: "\nPlaces", align: "right" },
        { heading: "Average\nfield", align: "left" },
        { heading: `\n${level} % range`, align: "left" },
        { heading: "Low\nyield", align: "left" },
        { heading: "Middle\nyield", align: "left" },
        { heading: "High\nyield", align: "left" },
        ...(asked === null
          ? []
          : [
              { heading: `Goal of\n${significant(asked, 5)}`, align: "left" } as const,
              { heading: `\n${level} % range`, align: "left" } as const,
            ]),
      ],
      rows,
      width,
    ),
    "",
    ...wrapText(
      "These ranges allow for how fields differ, so they hold for fields to come; those further up hold for the fields of this trial alone.",
      width,
    ),
    ...wrapText(
      "Low, middle and high are each hybrid's own environments, cut into parts of about equal number by their yield. What a field will yield is not known at planting: go by what it yields in most years, not by its best.",
      width,
    ),
    "",
    ...refused,
    ...goalLines(analysis, grown, words, width),
  ];
}

/** Why a yield goal was not answered, by reason; beyond the levels seen, a warning. */
function goalLines(analysis: TrialAnalysis, grown: readonly Grown[], words: Words, width: number): string[] {
  if (analysis.settings.yieldGoal === null) return [];
  const sentences = new Map<string, string[]>();
  for (const { hybrid, across } of grown) {
    const { yieldGoal: goal } = across;
    if (goal === null || (goal.kind === "estimated" && !goal.extrapolated)) continue;
    const text =
      goal.kind === "refused"
        ? goalSentence(analysis, across, words)
        : `yield goal ${significant(goal.yieldGoal, 5)} ${words.yieldUnit}: beyond the levels seen, where nothing was tested; take it as a guess.`;
    sentences.set(text, [...(sentences.get(text) ?? []), plainText(hybrid)]);
  }
  return [...sentences].flatMap(([text, names]) =>
    wrapText(`${listText(names)}: ${text.charAt(0).toLowerCase()}${text.slice(1)}`, width, "! ", "  "),
  );
}

/** Hybrids that gain more, or less, from better places than the average hybrid. */
function stabilityLines({ together, settings }: TrialAnalysis, words: Words, width: number): string[] {
  const stability = together?.stability;
  if (stability === undefined || stability.kind === "withheld") return [];
  const level = significant(100 * settings.level, 4);
  const told = (more: boolean): string[] =>
    stability.slopes.flatMap(({ hybrid, slope, lower, upper, p }) =>
      p === null || p >= 1 - settings.level || slope > 1 !== more || lower === null || upper === null
        ? []
        : [`${plainText(hybrid)} ${fixed(slope, 2)} (${fixed(lower, 2)} to ${fixed(upper, 2)})`],
    );
  const more = told(true);
  const less = told(false);
  const unit = words.yieldUnit;
  const parts = [
    ...(more.length === 0 ? [] : [`more than the average hybrid: ${listText(more)}`]),
    ...(less.length === 0 ? [] : [`less: ${listText(less)}`]),
  ];
  const text =
    parts.length === 0
      ? `No hybrid follows the yield level of the places surely more or less than the average hybrid does.`
      : `For each ${unit} by which a place is better, these gain ${parts.join("; ")} (${level} % ranges, each hybrid by itself).`;
  return [...wrapText(text, width), ""];
}
