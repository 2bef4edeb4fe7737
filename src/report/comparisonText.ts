import type { TrialAnalysis } from "../analyze/result.ts";
import { intervalCell } from "./intervalWords.ts";
import { fixed, percentage, significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { textTable } from "./textTable.ts";
import { isUnjudged, type Words } from "./words.ts";

const FEW_PAIRS = 15;

/** Hybrids by falling flex score, how surely they differ, and which has its highest yield at the denser stand. */
export function comparisonText(analysis: TrialAnalysis, words: Words, width: number): string[] {
  const { between, byFlex, differences, optimumDifferences, note } = analysis.comparison;
  const settled = new Set(
    analysis.hybrids.flatMap(({ hybrid, pooled }) =>
      pooled.kind === "analysed" && !isUnjudged(pooled) ? [hybrid] : [],
    ),
  );
  const ordered = byFlex.filter((hybrid) => settled.has(hybrid));
  if (ordered.length < 2) return [];
  const level = significant(100 * analysis.settings.level, 4);
  const top = byFlex[0];
  const pairs = differences.filter(({ first, second }) => settled.has(first) && settled.has(second));
  const listed = pairs.length <= FEW_PAIRS ? pairs : pairs.filter(({ first }) => first === top);
  const denser = new Map<string, number>();
  for (const { first, second, probability } of optimumDifferences) {
    denser.set(JSON.stringify([first, second]), probability);
    denser.set(JSON.stringify([second, first]), 1 - probability);
  }
  const rows = listed.map(({ first, second, difference, interval, probability }) => {
    const chance = denser.get(JSON.stringify([first, second]));
    return [
      plainText(first),
      plainText(second),
      fixed(difference, 1),
      intervalCell(interval, (value) => fixed(value, 1)),
      percentage(probability),
      chance === undefined ? "" : percentage(chance),
    ];
  });
  const range =
    between === null
      ? ""
      : ` between ${words.density(between[0])} and ${words.density(between[1])} ${words.densityUnit}`;
  const order = `From the hybrid that makes up most for missing plants to the one that needs them most${range}: ${orderText(ordered)}.`;
  const table =
    rows.length === 0
      ? []
      : [
          "",
          ...textTable(
            [
              { heading: "\nFirst", align: "left" },
              { heading: "\nSecond", align: "left" },
              { heading: "Difference\nof scores", align: "right" },
              { heading: `\n${level} % range`, align: "left" },
              { heading: "Chance that the\nfirst scores higher", align: "right" },
              { heading: "Chance that its\nbest stand is denser", align: "right" },
            ],
            rows,
            width,
          ),
          ...(listed.length === 1
            ? []
            : [
                "",
                ...wrapText(
                  `Each range is for one pair by itself; among ${fixed(listed.length, 0)} pairs some will look different by chance.`,
                  width,
                ),
              ]),
        ];
  return [
    "Flex scores compared",
    "",
    ...wrapText(order, width),
    ...table,
    ...(note === null ? [] : wrapText(`${note.charAt(0).toUpperCase()}${note.slice(1)}.`, width)),
    "",
  ];
}

function orderText(hybrids: readonly string[]): string {
  const names = hybrids.map(plainText);
  if (names.length <= FEW_PAIRS) return names.join(", ");
  return `${names.slice(0, 5).join(", ")}, … ${names.slice(-5).join(", ")}`;
}
