import type { PlantResponse } from "../analyze/plantResult.ts";
import type { TrialAnalysis } from "../analyze/result.ts";
import type { EarComponents } from "../derive/earComponents.ts";
import { intervalCell } from "./intervalWords.ts";
import { fixed, significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { textTable } from "./textTable.ts";

export const plantTitle = "Ears and plants under crowding";

/** What ears and plant traits do as density rises, beside yield; nothing when no such column was recorded. */
export function plantText(analysis: TrialAnalysis, width: number): string[] {
  const { plantResponse } = analysis;
  if (plantResponse === null) return [];
  const lines = [...earLines(plantResponse, width), ...traitLines(plantResponse, analysis.settings.level, width)];
  return lines.length === 0 ? [] : [plantTitle, "", ...lines];
}

function earLines({ ears, earsReason, notes }: PlantResponse, width: number): string[] {
  if (ears === null) return earsReason === null ? [] : [...wrapText(`${sentence(earsReason)}`, width), ""];
  const split = ears.hybrids.filter(({ parts }) => parts.length > 0);
  if (split.length === 0) return wrapText("The ears of no hybrid were sampled at two densities of one block.", width);
  return [
    ...wrapText(
      "Which part of the ear makes up for missing plants: points of the flex score that each part carries, from ear samples; they add up to the last column.",
      width,
    ),
    "",
    ...earTable(split, width),
    "",
    ...closureLines(split, width),
    ...[...notes, ...ears.notes].flatMap((note) => wrapText(plainText(note), width, "  - ", "    ")),
    "",
  ];
}

function earTable(hybrids: EarComponents["hybrids"], width: number): string[] {
  const cell = (points: number, interval: { lower: number | null; upper: number | null } | null): string =>
    interval === null || interval.lower === null || interval.upper === null
      ? fixed(points, 0)
      : `${fixed(points, 0)} (${fixed(-100 * interval.upper, 0)} to ${fixed(-100 * interval.lower, 0)})`;
  return textTable(
    [
      { heading: "\nHybrid", align: "left" },
      { heading: "Ears per\nplant", align: "right" },
      { heading: "Rows\nper ear", align: "right" },
      { heading: "Kernels\nper row", align: "right" },
      { heading: "Kernel\nmass", align: "right" },
      { heading: "\nTogether", align: "right" },
    ],
    hybrids.map(({ hybrid, parts, flexScore }) => [
      plainText(hybrid),
      ...parts.map(({ points, jointInterval }) => cell(points, jointInterval)),
      flexScore === null ? "" : fixed(flexScore, 0),
    ]),
    width,
  );
}

function closureLines(hybrids: EarComponents["hybrids"], width: number): string[] {
  const closed = hybrids.flatMap(({ hybrid, closure }) =>
    closure === null ? [] : [`${plainText(hybrid)} ${significant(100 * closure.ratio, 3)} %`],
  );
  if (closed.length === 0) return [];
  return [
    ...wrapText(`Yield worked out from the ears against yield as weighed: ${closed.join(", ")} (100 % agrees).`, width),
    "",
  ];
}

function traitLines({ sideBySide }: PlantResponse, level: number, width: number): string[] {
  if (sideBySide.length === 0) return [];
  const slope = (value: number | null): string => (value === null ? "" : fixed(value, 2));
  return [
    ...wrapText(
      "Yield and plants side by side: change in percent for 1 % more plants, on the same plots. A trait of -1.00 shrinks as fast as plants increase; a stalk diameter of -0.50 keeps the stalk area per ground the same.",
      width,
    ),
    "",
    ...textTable(
      [
        { heading: "\nTrait", align: "left" },
        { heading: "\nHybrid", align: "left" },
        { heading: "Flex\nscore", align: "right" },
        { heading: "\nYield", align: "right" },
        { heading: "\nTrait", align: "right" },
        { heading: `${significant(100 * level, 4)} % range\nof the trait`, align: "left" },
        { heading: "\nAs density rises", align: "left" },
      ],
      sideBySide.map((row) => [
        plainText(row.trait),
        plainText(row.hybrid),
        row.flexScore === null ? "" : fixed(row.flexScore, 0),
        slope(row.yieldSlope),
        slope(row.traitSlope),
        row.traitInterval === null ? "" : intervalCell(row.traitInterval, (value) => fixed(value, 2)),
        row.reading === null ? "" : `yield ${row.reading.yield}, trait ${row.reading.trait}`,
      ]),
      width,
    ),
    "",
  ];
}

function sentence(reason: string): string {
  return `${reason.charAt(0).toUpperCase()}${reason.slice(1)}.`;
}
