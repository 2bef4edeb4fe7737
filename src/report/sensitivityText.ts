import type { CurveAnalysis, TrialAnalysis } from "../analyze/result.ts";
import { optimumCell } from "./intervalWords.ts";
import { wrapText } from "./plainText.ts";
import { seedsBehind } from "./seedsBehind.ts";
import { textTable } from "./textTable.ts";
import type { Words } from "./words.ts";

/** How the best-paying rate moves with prices: seed costs down, grain prices across. */
export function sensitivityText(
  analysis: TrialAnalysis,
  { sensitivity }: CurveAnalysis,
  words: Words,
  width: number,
): string[] {
  if (sensitivity.length === 0) return [];
  const inSeeds =
    sensitivity.every((cell) => cell.seedingRate !== null) && (words.place === "seeding rate" || knowsSeeds(analysis));
  const grain = [...new Set(sensitivity.map((cell) => cell.grainPrice))];
  const seed = [...new Set(sensitivity.map((cell) => cell.seedCost))];
  const text = (cell: CurveAnalysis["sensitivity"][number], named = ""): string =>
    inSeeds
      ? optimumCell(cell.kind, cell.seedingRate, words.seedsInTable, named)
      : optimumCell(cell.kind, cell.density, words.density, named);
  const unit = inSeeds ? words.seedTableUnit : words.densityUnit;
  const texts = new Set(sensitivity.map((cell) => text(cell)));
  const first = sensitivity[0];
  const one = first === undefined ? "" : text(first, unit);
  if (texts.size === 1) {
    return [
      ...wrapText(`The best-paying rate, ${one}, stays the same with seed and grain prices 20 % up or down.`, width),
      "",
    ];
  }
  const rows = seed.map((seedCost) => [
    words.seedCost(seedCost),
    ...grain.map((grainPrice) => {
      const cell = sensitivity.find((one) => one.seedCost === seedCost && one.grainPrice === grainPrice);
      return cell === undefined ? "" : text(cell);
    }),
  ]);
  const per = analysis.trial.yieldUnit.split("/")[0];
  return [
    `Best-paying rate if prices change, in ${unit}`,
    "",
    ...textTable(
      [
        { heading: "Seed per 1,000", align: "left" },
        ...grain.map((price) => ({ heading: `grain ${words.money(price)} per ${per}`, align: "right" }) as const),
      ],
      rows,
      width,
      "  ",
    ),
    "",
  ];
}

function knowsSeeds(analysis: TrialAnalysis): boolean {
  return analysis.hybrids.every(
    ({ pooled }) => pooled.kind === "not-estimable" || seedsBehind(analysis, pooled, 1) !== null,
  );
}
