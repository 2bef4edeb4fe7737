import type { CurveAnalysis, NoAnalysis, TrialAnalysis } from "../analyze/result.ts";
import { intervalCell, optimumCell } from "./intervalWords.ts";
import { significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { seedsBehind } from "./seedsBehind.ts";
import { textTable } from "./textTable.ts";
import { isUnjudged, type Words } from "./words.ts";

/** One hybrid in each environment: what pays and what yields most there. */
export function environmentText(
  analysis: TrialAnalysis,
  environments: readonly (CurveAnalysis | NoAnalysis)[],
  words: Words,
  width: number,
): string[] {
  if (environments.length === 0) return [];
  const priced = analysis.settings.prices !== null;
  const onStand = words.place === "stand";
  const inSeeds =
    onStand && environments.every((one) => one.kind === "not-estimable" || seedsBehind(analysis, one, 1) !== null);
  const level = significant(100 * analysis.settings.level, 4);
  const rows = environments.map((one) => {
    const name = plainText(one.environment ?? "");
    if (one.kind === "not-estimable") return [name, "not analysed"];
    if (isUnjudged(one)) return [name, "not settled"];
    const show = (x: number): string =>
      inSeeds ? words.seedsInTable(seedsBehind(analysis, one, x) as number) : words.density(x);
    const { economic, agronomic } = one;
    return [
      name,
      one.chosen,
      ...(economic === null
        ? []
        : [optimumCell(economic.optimum.kind, economic.optimum.density, show), intervalCell(economic.interval, show)]),
      optimumCell(agronomic.optimum.kind, agronomic.optimum.density, words.density),
      intervalCell(agronomic.interval, words.density),
      words.yield(agronomic.optimum.yield),
    ];
  });
  const columns = [
    { heading: "\nEnvironment", align: "left" },
    { heading: "\nCurve", align: "left" },
    ...(priced
      ? [
          { heading: inSeeds ? "Pays best\n(seeds)" : "Pays best\nat", align: "left" } as const,
          { heading: `\n${level} % range`, align: "left" } as const,
        ]
      : []),
    { heading: inSeeds && priced ? "Yields most\n(stand)" : "Yields most\nat", align: "left" },
    { heading: `\n${level} % range`, align: "left" },
    { heading: `Yield\n${words.yieldUnit}`, align: "right" },
  ] as const;
  const refusals = environments.flatMap((one) =>
    one.kind === "not-estimable"
      ? wrapText(`${plainText(one.environment ?? "")}: ${plainText(one.reason)}.`, width, "  ")
      : [],
  );
  const units =
    inSeeds && priced ? `seeds in ${words.seedTableUnit}, stands in ${words.standUnit}` : `in ${words.densityUnit}`;
  return [`By environment, ${units}`, "", ...textTable(columns, rows, width, "  "), ...refusals, ""];
}
