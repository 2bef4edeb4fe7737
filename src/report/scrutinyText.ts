import type { CurveAnalysis } from "../analyze/result.ts";
import type { Check } from "../derive/diagnoseCheck.ts";
import { optimumCell } from "./intervalWords.ts";
import { countOf, pValue } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { textTable } from "./textTable.ts";
import type { Words } from "./words.ts";

const names = {
  "mean-by-density": "Curve against the density means",
  "mean-by-fitted": "Curve against its own fit",
  "spread-by-density": "Scatter at the densities",
  "spread-by-fitted": "Scatter at high and low yields",
  normality: "Normal errors",
  outliers: "Plots far off",
  neighbours: "Likeness of neighbours",
  "position-trend": "Trend along the field",
} as const;

const verdicts = {
  fine: "fine",
  harmless: "found, moves little",
  matters: "moves the optimum",
  "not-tested": "cannot be tested",
} as const;

/** What the decision hangs on: what moves it when left out, and the checks that move it; on request all checks. */
export function scrutinyLines(curve: CurveAnalysis, words: Words, width: number, full: boolean): string[] {
  const { scrutiny, economic, agronomic } = curve;
  if (scrutiny === null) return [];
  const { influence, alarms } = scrutiny;
  // Without an optimum there is nothing to move.
  if ((economic ?? agronomic).optimum.kind === "none" && influence.worst.length === 0 && !full) return [];
  return [
    ...(influence.worst.length === 0 ? steadyLines(curve, words, width) : movedLines(curve, words, width, full)),
    ...alarms.flatMap((alarm) => wrapText(`${capital(plainText(alarm))}.`, width, "! ", "  ")),
    ...(alarms.length > 0 ? [""] : []),
    ...(full ? checkLines(scrutiny.checks, width) : []),
  ];
}

function steadyLines({ environments }: CurveAnalysis, { place }: Words, width: number): string[] {
  const units = environments > 1 ? "plot, block, density or environment" : "plot, block or density";
  return [
    ...wrapText(
      `Hangs on no single ${units}: left out one at a time, none moves the best ${place} by more than 5 % of the tested range.`,
      width,
    ),
    "",
  ];
}

function movedLines(curve: CurveAnalysis, words: Words, width: number, full: boolean): string[] {
  const { scrutiny, economic, agronomic, chosen } = curve;
  const worst = scrutiny?.influence.worst ?? [];
  // The largest of each kind: the rest is in the full report.
  const shown = full ? worst : worst.filter(({ unit }, i) => worst.findIndex((one) => one.unit === unit) === i);
  const rows = shown.map(({ unit, label, decision }) => {
    const place = decision?.economic ?? decision?.agronomic ?? null;
    const name = unit === "density" ? words.density(Number(label)) : plainText(label);
    return [
      `${unit} ${name}`,
      place === null ? "not estimable" : optimumCell(place.kind, place.density, words.density),
      decision === null || decision.family === chosen ? "" : decision.family,
    ];
  });
  const { optimum } = economic ?? agronomic;
  const what = economic === null ? "Highest\nyield at" : `Best-paying\n${words.place}`;
  const more = worst.length - shown.length;
  const best = optimumCell(optimum.kind, optimum.density, words.density);
  const rest =
    more > 0
      ? ` The largest change of each kind is shown; ${countOf(more, "more case")} ${more === 1 ? "is" : "are"} not.`
      : "";
  return [
    ...wrapText(
      `The best ${words.place} of ${best} ${words.densityUnit} hangs on single parts of the trial.${rest}`,
      width,
    ),
    "",
    `Without one part of the trial, in ${words.densityUnit}`,
    "",
    ...textTable(
      [
        { heading: "\nLeft out", align: "left" },
        { heading: what, align: "left" },
        { heading: "Another\ncurve", align: "left" },
      ],
      rows,
      width,
      "  ",
    ),
    "",
  ];
}

function checkLines(checks: readonly Check[], width: number): string[] {
  const rows = checks.map(({ name, verdict, p }) => [names[name], verdicts[verdict], p === null ? "-" : pValue(p)]);
  return [
    "Checks of the curve",
    "",
    ...textTable(
      [
        { heading: "Check", align: "left" },
        { heading: "Result", align: "left" },
        { heading: "P", align: "right" },
      ],
      rows,
      width,
      "  ",
    ),
    "",
  ];
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
