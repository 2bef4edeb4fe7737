import type { CurveAnalysis, TrialAnalysis } from "../analyze/result.ts";
import { intervalText, optimumCell } from "./intervalWords.ts";
import { countOf, pValue, significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { textTable } from "./textTable.ts";
import { isUnjudged, type Words } from "./words.ts";

/** Why this curve, what to be careful about, and on request all curves that were compared. */
export function curveLines(
  analysis: TrialAnalysis,
  curve: CurveAnalysis,
  words: Words,
  width: number,
  full: boolean,
): string[] {
  const { comparison, chosen, cvPercent } = curve;
  const unit = analysis.trial.densityUnit.replace("1000 ", "thousand ");
  const scatter = cvPercent === null ? "" : `; plots scatter ${significant(cvPercent, 2)} % around it`;
  const why = isUnjudged(curve) ? ", for want of a better one" : ` (${curve.reason})`;
  const base = `Curve: ${chosen} ${why}, from ${countOf(curve.plots, "plot")} in ${countOf(curve.blocks, "block")}${scatter}.`;
  const warnings = comparison.warnings.flatMap((warning) =>
    wrapText(
      `${capital(plainText(warning.message))}${warning.code === "optimum-depends-on-family" ? ` (${unit})` : ""}.`,
      width,
      "! ",
      "  ",
    ),
  );
  return [...wrapText(base, width), ...warnings, "", ...(full ? fullLines(curve, words, width) : [])];
}

function fullLines(curve: CurveAnalysis, words: Words, width: number): string[] {
  const rows = curve.comparison.ranking.map((rank) => {
    const { lackOfFit } = rank;
    return [
      rank.family,
      rank.delta === null ? "-" : rank.delta.toFixed(1),
      rank.weight > 0 ? `${Math.round(100 * rank.weight)} %` : "-",
      rank.optimum === null ? "none" : optimumCell(rank.optimum.kind, rank.optimum.density, words.density),
      lackOfFit.kind === "tested" ? pValue(lackOfFit.p) : "cannot be tested",
    ];
  });
  const table = textTable(
    [
      { heading: "\nCurve", align: "left" },
      { heading: "AICc above\nthe best", align: "right" },
      { heading: "\nWeight", align: "right" },
      { heading: "Highest\nyield at", align: "left" },
      { heading: "Misses the\ndensity means", align: "left" },
    ],
    rows,
    width,
    "  ",
  );
  const others = [
    { title: "Best-paying", report: curve.economic },
    { title: "Highest-yielding", report: curve.agronomic },
  ].flatMap(({ title, report }) => {
    if (report === null) return [];
    const parts: string[] = [];
    if (report.bootstrap !== null) {
      const { interval, count } = report.bootstrap;
      const within = intervalText(interval, words.density);
      const total = count.inside + count.lowerEdge + count.upperEdge + count.missing;
      const ends = [
        [count.lowerEdge, "at the lowest tested density"],
        [count.upperEdge, "at the highest"],
        [count.missing, "without response"],
      ] as const;
      const noted = ends.flatMap(([n, where]) => (n > 0 ? [`${significant((100 * n) / total, 2)} % ${where}`] : []));
      parts.push(
        `resampling, with the curve chosen anew each time, ${within === "not bounded" ? "does not bound it" : `gives ${within}`}${noted.length === 0 ? "" : ` (${noted.join(", ")})`}`,
      );
    }
    if (report.averaged !== null) {
      parts.push(
        `the curves averaged by weight put it at ${optimumCell(report.averaged.kind, report.averaged.density, words.density)}`,
      );
    }
    return parts.length === 0
      ? []
      : wrapText(`${title} ${words.place}: ${parts.join("; ")} (${words.densityUnit}).`, width);
  });
  return ["Curves compared", "", ...table, "", ...others, ...(others.length > 0 ? [""] : [])];
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
