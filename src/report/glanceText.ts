import type { CurveAnalysis, TrialAnalysis } from "../analyze/result.ts";
import { intervalCell, nearBestText, optimumCell } from "./intervalWords.ts";
import { fixed, significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { seedInterval, seedsBehind } from "./seedsBehind.ts";
import { statedShare } from "./standWords.ts";
import { textTable } from "./textTable.ts";
import { isUnjudged, type Words } from "./words.ts";

/**
 * Two tables with a line for each hybrid: what pays, and how yield responds.
 *
 * @param sections - each hybrid follows in a section of its own, which tells why it was not analysed
 */
export function glanceText(analysis: TrialAnalysis, words: Words, width: number, sections: boolean): string[] {
  const curves = analysis.hybrids.flatMap(({ pooled }) => (pooled.kind === "analysed" ? [pooled] : []));
  const lines: string[] = [];
  if (curves.length > 0 && analysis.settings.prices !== null) lines.push(...payTable(analysis, curves, words, width));
  const capped = curves.filter((curve) => lodgesBelow(curve) !== "");
  if (capped.length > 0 && analysis.settings.prices !== null) {
    lines.push(
      ...wrapText(
        `! Too many plants lodge before this rate is reached (more than ${statedShare(analysis.settings.toleratedLodging)}): standability decides there, not yield.`,
        width,
        "",
        "  ",
      ),
      "",
    );
  }
  if (curves.length > 0) lines.push(...responseTable(analysis, curves, words, width));
  if (lines.some((line) => / \*( |$)/.test(line))) {
    lines.push(
      ...wrapText("* This range has separate parts with a gap between them; its outer ends are shown.", width),
      "",
    );
  }
  const care = [...warningDigest(analysis, curves, width), ...(sections ? [] : refusalDigest(analysis, width))];
  lines.push(...care);
  if (lines.length > 0 && lines[lines.length - 1] !== "") lines.push("");
  return lines;
}

const meaning = {
  "optimum-depends-on-family":
    "Curves that fit about equally well put the highest yield at densities far apart, and this trial does not tell which",
  tie: "Several curves fit exactly alike, and the simplest is shown",
  "lack-of-fit": "The curve misses the density means by more than plot scatter explains",
  "too-few-plots": "Too few plots to compare all curves",
} as const;

/** Warnings of all hybrids by kind. */
function warningDigest({ hybrids }: TrialAnalysis, curves: readonly CurveAnalysis[], width: number): string[] {
  return (["too-few-plots", "optimum-depends-on-family", "lack-of-fit", "tie"] as const).flatMap((code) => {
    const names = curves
      .filter(({ comparison }) => comparison.warnings.some((warning) => warning.code === code))
      .map(({ hybrid }) => hybrid);
    const whom =
      hybrids.length > 1 && names.length === hybrids.length ? "all hybrids" : names.map(plainText).join(", ");
    return names.length === 0 ? [] : wrapText(`${meaning[code]}: ${whom}.`, width, "! ", "  ");
  });
}

/** Hybrids without a curve, by reason. */
function refusalDigest({ hybrids }: TrialAnalysis, width: number): string[] {
  const refused = new Map<string, string[]>();
  for (const { pooled } of hybrids) {
    if (pooled.kind === "not-estimable")
      refused.set(pooled.reason, [...(refused.get(pooled.reason) ?? []), plainText(pooled.hybrid)]);
  }
  return [...refused].flatMap(([reason, names]) =>
    wrapText(`Not analysed (${plainText(reason)}): ${names.join(", ")}.`, width, "! ", "  "),
  );
}

/** Marks a rate at which more than the tolerated share lodges. */
function lodgesBelow({ standability }: CurveAnalysis): string {
  return standability?.standing.binds === "standability" ? " !" : "";
}

function payTable(analysis: TrialAnalysis, curves: readonly CurveAnalysis[], words: Words, width: number): string[] {
  const inSeeds = curves.every((curve) => seedsBehind(analysis, curve, 1) !== null);
  const show = inSeeds ? words.seedsInTable : words.density;
  const level = significant(100 * analysis.settings.level, 4);
  const rows = curves.flatMap((curve) => {
    const report = curve.economic;
    if (report === null) return [];
    const move = (x: number): string => show(inSeeds ? (seedsBehind(analysis, curve, x) as number) : x);
    const { optimum, interval } = report;
    if (isUnjudged(curve)) return [[plainText(curve.hybrid), "not settled"]];
    return [
      [
        plainText(curve.hybrid),
        optimum.density === null ? "none" : optimumCell(optimum.kind, optimum.density, move) + lodgesBelow(curve),
        intervalCell((inSeeds ? seedInterval(interval, analysis, curve) : null) ?? interval, show),
        optimum.nearBest === null ? "all" : nearBestText(optimum.nearBest, move),
        ...(inSeeds && words.place === "stand" && optimum.density !== null ? [words.density(optimum.density)] : []),
        words.yield(optimum.yield),
        words.money(optimum.return),
      ],
    ];
  });
  const loss = words.money(analysis.settings.nearBestLoss);
  const columns = [
    { heading: "Hybrid", align: "left" },
    { heading: inSeeds ? "Best\nrate" : "Best\nstand", align: "left" },
    { heading: `\n${level} % range`, align: "left" },
    { heading: `Costs less\nthan ${loss}`, align: "left" },
    ...(inSeeds && words.place === "stand" ? [{ heading: "Stand\nthere", align: "right" } as const] : []),
    { heading: `Yield\n${words.yieldUnit}`, align: "right" },
    { heading: `Left after\nseed per ${words.area}`, align: "right" },
  ] as const;
  return [
    `What pays best, in ${inSeeds ? words.seedTableUnit : words.densityUnit}`,
    "",
    ...textTable(columns, rows, width),
    "",
    ...wrapText(
      `The ${level} % range is where this trial places the best ${inSeeds ? "rate" : "stand"}. What costs less than ${words.money(analysis.settings.nearBestLoss)} per ${words.area} is read off the chosen curve, as if that were known.`,
      width,
    ),
    "",
  ];
}

function responseTable(
  analysis: TrialAnalysis,
  curves: readonly CurveAnalysis[],
  words: Words,
  width: number,
): string[] {
  const level = significant(100 * analysis.settings.level, 4);
  const rows = curves.map((curve) => {
    const { optimum, interval } = curve.agronomic;
    const { flex, interval: flexRange, group } = curve.flex;
    if (isUnjudged(curve)) return [plainText(curve.hybrid), "not settled"];
    return [
      plainText(curve.hybrid),
      curve.chosen,
      optimumCell(optimum.kind, optimum.density, words.density),
      intervalCell(interval, words.density),
      words.yield(optimum.yield),
      flex.score === null ? "-" : fixed(flex.score, 0),
      flexRange === null ? "" : intervalCell(flexRange, (score) => fixed(score, 0)),
      group ?? "no score",
    ];
  });
  return [
    `How yield responds, in ${words.densityUnit}`,
    "",
    ...textTable(
      [
        { heading: "\nHybrid", align: "left" },
        { heading: "\nCurve", align: "left" },
        { heading: "Highest\nyield at", align: "left" },
        { heading: `\n${level} % range`, align: "left" },
        { heading: `Yield\n${words.yieldUnit}`, align: "right" },
        { heading: "Flex\nscore", align: "right" },
        { heading: `\n${level} %`, align: "left" },
        { heading: "In\nwords", align: "left" },
      ],
      rows,
      width,
    ),
    "",
  ];
}
