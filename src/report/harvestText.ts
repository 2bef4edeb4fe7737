import type { CurveAnalysis, TrialAnalysis } from "../analyze/result.ts";
import type { HarvestReport, StandabilityReport } from "../analyze/standability.ts";
import type { HarvestOptimum } from "../standability/harvestableOptimum.ts";
import { intervalCell, optimumCell } from "./intervalWords.ts";
import { percentage, significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import {
  densityUnitOf,
  foundShare,
  limitCell,
  limitRange,
  placeText,
  shownDensity,
  statedShare,
} from "./standWords.ts";
import { textTable } from "./textTable.ts";
import type { Words } from "./words.ts";

type Estimated = Extract<HarvestReport, { kind: "estimated" }>;

/** The optimum of what can be harvested beside that of what grows. */
export function harvestSentences({ optimum, axes }: Estimated, level: number, words: Words): string {
  const target = optimum.harvestable.economic === null ? "agronomic" : "economic";
  const gross = optimum.gross[target] as HarvestOptimum;
  const brought = optimum.harvestable[target] as HarvestOptimum;
  const show = shownDensity(words);
  const lost = optimum.lossShare === 0.5 ? "half" : statedShare(optimum.lossShare);
  const start = `If ${lost} of a lodged plant's grain is lost (${optimum.lossShare === 0.5 ? "a convention: put in your own figure" : "as stated"})`;
  const name = target === "economic" ? `best-paying ${words.place}` : `${words.place} of highest yield`;
  if (brought.density === null) return `${start}, no ${words.place} brings in more than another.`;
  const draws = optimum.bootstrap?.harvestable[target]?.interval ?? null;
  const range = limitRange(draws, show);
  const sure = range === "" ? "" : `, ${significant(100 * level, 4)} % range ${range}`;
  const place = axes[target] ?? { stand: null, seedingRate: null };
  const at = `${edge(brought, placeText(brought.density, place, words))}${sure}`;
  const moves = gross.density === null || show(gross.density) !== show(brought.density);
  const verb = moves
    ? `${start}, the ${name} is ${at}, instead of ${gross.density === null ? "none in particular" : show(gross.density)}`
    : `${start}, the ${name} stays at ${at}`;
  const chance =
    optimum.bootstrap === null || target === "economic" || !moves
      ? ""
      : ` (${percentage(optimum.bootstrap.probabilityLower)} of the resamples put it lower)`;
  const given = words.yield(optimum.lossAtGross);
  const cost =
    target === "agronomic" && moves && Number(given) > 0
      ? ` Planting for the yield grown would bring in ${given} ${words.yieldUnit} less.`
      : "";
  const table = optimum.sensitivity.map((one) => ({ loss: one.lossShare, density: one[target] }));
  const other = moves
    ? ` By loss: ${table.map(({ loss, density }) => `${statedShare(loss)} ${density === null ? "none" : show(density)}`).join(", ")} ${densityUnitOf(words)}.`
    : "";
  return `${verb}${chance}.${cost}${other}`;
}

function edge({ kind }: HarvestOptimum, text: string): string {
  return kind === "upper-edge" ? `${text} or more` : kind === "lower-edge" ? `${text} or less` : text;
}

/** A line for each round of counting: the limit and what could be brought in. */
export function roundTable(
  analysis: TrialAnalysis,
  report: StandabilityReport,
  curve: CurveAnalysis | null,
  words: Words,
  width: number,
): string[] {
  const rounds = report.lodging.filter(({ kind }) => kind === report.standing.basis).reverse();
  if (rounds.length < 2) return [];
  const economic = analysis.settings.prices !== null && curve !== null;
  const level = significant(100 * analysis.settings.level, 4);
  const rows = rounds.map((round, i) => {
    const { date, daysAfterMaturity: days } = round.time;
    const scenario = report.scenarios[i - rounds.length + report.scenarios.length]?.optimum;
    const best = scenario && (economic ? scenario.harvestable.economic : scenario.harvestable.agronomic);
    const total = round.examined === null || round.lodged === null ? "-" : foundShare(round.lodged / round.examined);
    return [
      date === null ? `${i + 1}` : plainText(date),
      days === null ? "" : [...new Set(days)].map((day) => significant(day, 3)).join(" to "),
      total,
      limitCell(round, words),
      round.limit.interval === null ? "" : intervalCell(round.limit.interval, words.density),
      ...(best === undefined || best === null || best.density === null
        ? ["-", "-"]
        : [optimumCell(best.kind, best.density, words.density), foundShare(best.lodgedShare)]),
    ];
  });
  const dated = rounds.some(({ time }) => time.daysAfterMaturity !== null);
  const columns = [
    { heading: "\nCounted", align: "left" },
    { heading: "Days after\nmaturity", align: "right" },
    { heading: "Lodged,\nall plots", align: "right" },
    { heading: `${statedShare(report.tolerated)}\nlodge at`, align: "left" },
    { heading: `\n${level} % range`, align: "left" },
    { heading: economic ? "Harvest\npays best at" : "Most is\nharvested at", align: "left" },
    { heading: "Lodged\nthere", align: "right" },
  ] as const;
  const keep = columns.map((_, c) => dated || c !== 1);
  return [
    `By date of the count, in ${words.densityUnit}`,
    "",
    ...textTable(
      columns.filter((_, c) => keep[c]),
      rows.map((row) => row.filter((_, c) => keep[c])),
      width,
      "  ",
    ),
    "",
    ...wrapText(
      "The later the harvest, the more usually lodges: choose the line that fits the harvest you plan.",
      width,
    ),
    "",
  ];
}
