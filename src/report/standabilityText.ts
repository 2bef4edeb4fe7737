import type { CurveAnalysis, HybridAnalysis, NoAnalysis, TrialAnalysis } from "../analyze/result.ts";
import type { StandabilityReport } from "../analyze/standability.ts";
import { flagTable } from "./flagTable.ts";
import { harvestSentences, roundTable } from "./harvestText.ts";
import { intervalCell, optimumCell } from "./intervalWords.ts";
import { percentage, significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { ratingSentence, traitSentence } from "./stalkText.ts";
import { caps, limitSentence, verdictSentences, weakStalks } from "./standVerdict.ts";
import { foundShare, limitCell, limitRange, optimumName, shownDensity, statedShare } from "./standWords.ts";
import { textTable } from "./textTable.ts";
import { isUnjudged, type Words } from "./words.ts";

/** How one hybrid stands: verdict, densities, kinds, stalks, ratings, harvest, environments. */
export function standabilityLines(
  analysis: TrialAnalysis,
  { pooled, environments }: HybridAnalysis,
  words: Words,
  width: number,
  full: boolean,
): string[] {
  const report = pooled.standability;
  if (report === null) return [];
  const { level } = analysis.settings;
  const curve = pooled.kind === "analysed" && !isUnjudged(pooled) ? pooled : null;
  const head = report.lodging.find(({ last, kind }) => last && kind === report.standing.basis);
  const others = report.lodging.filter(({ last, kind }) => last && kind !== report.standing.basis);
  const kinds = others.map((one) => otherKind(one, report, head, curve !== null, words, level));
  // A verdict that caps the density stands at the top of the hybrid's section.
  const verdict = head === undefined || caps(report) ? [] : [verdictSentences(report, curve !== null, words, level)];
  const harvest =
    curve !== null &&
    head?.fit.status !== "none-lodged" &&
    report.harvest.kind === "estimated" &&
    report.harvest.optimum.lossShare > 0
      ? [harvestSentences(report.harvest, level, words)]
      : [];
  const told = [
    ...harvest,
    ...(kinds.length === 0 ? [] : [kinds.join(" ")]),
    ...elsewhere(report, words, level),
    ...report.traits.map((trait) => traitSentence(trait, words)),
    ...report.ratings.map((rating) => ratingSentence(rating, words)),
  ];
  // That nothing lodged is the verdict itself.
  const notes = head?.fit.status === "none-lodged" ? [] : report.notes;
  const table = head === undefined ? [] : flagTable(head, words, width, full);
  const more = full ? others.flatMap((one) => titled(one.kind, flagTable(one, words, width, full))) : [];
  return [
    "Standability",
    "",
    ...verdict.flatMap((text) => [...wrapText(text, width), ""]),
    ...(table.length === 0 ? [] : [...table, ""]),
    ...more,
    ...told.flatMap((text) => [...wrapText(text, width), ""]),
    ...roundTable(analysis, report, curve, words, width),
    ...byEnvironment(analysis, environments, words, width),
    ...notes.flatMap((note) => wrapText(plainText(note), width, "! ", "  ")),
    ...(notes.length === 0 ? [] : [""]),
  ];
}

/** One more kind beside the one that the verdict rests on; weak stalks at the rate to be planted are a reason to harvest first. */
function otherKind(
  one: Head,
  { standing }: StandabilityReport,
  head: Head | undefined,
  judged: boolean,
  words: Words,
  level: number,
): string {
  const sentence = limitSentence(one, words, level, head);
  const test = one.kind === "push" || one.kind === "pinch";
  const x = standing.yieldOptimum;
  const weak = judged && x !== null && (one.limit.kind === "below-range" || (one.limit.density ?? x) < x);
  return test && weak ? `${sentence}. ${weakStalks(optimumName(standing, words))}` : `${sentence}.`;
}

function titled(kind: string, table: readonly string[]): string[] {
  return table.length === 0 ? [] : [`Of the kind ${kind}`, "", ...table, ""];
}

/** The limit where environments are a sample of others. */
function elsewhere({ newEnvironment }: StandabilityReport, words: Words, level: number): string[] {
  const limit = newEnvironment?.limit;
  if (newEnvironment == null || limit == null || newEnvironment.status !== "converged" || limit.kind !== "interior")
    return [];
  const show = shownDensity(words);
  const range = limitRange(limit.interval, show);
  const spread =
    newEnvironment.dispersion !== null && newEnvironment.dispersion > 1.5
      ? " Plots differ more than that range allows for, so it is too short."
      : "";
  return [
    `In environments like these but not tested, ${statedShare(limit.tolerated)} lodge on average at ${show(limit.density as number)}${range === "" ? "" : ` (${significant(100 * level, 4)} % range ${range})`}.${spread}`,
  ];
}

/** A line for each environment: how much lodged and where the limit lies there. */
function byEnvironment(
  { settings }: TrialAnalysis,
  environments: readonly (CurveAnalysis | NoAnalysis)[],
  words: Words,
  width: number,
): string[] {
  const rows = environments.flatMap(({ environment, standability }) => {
    const one = standability?.lodging.find(({ last, kind }) => last && kind === standability.standing.basis);
    if (one === undefined) return [];
    return [[plainText(environment ?? ""), ...lodgingCells(one, words)]];
  });
  if (rows.length < 2) return [];
  return [
    `Standability by environment, in ${words.densityUnit}`,
    "",
    ...textTable([{ heading: "\nEnvironment", align: "left" }, ...lodgingColumns(settings)], rows, width, "  "),
    "",
  ];
}

function harvestCell(harvest: StandabilityReport["harvest"], words: Words): string {
  if (harvest.kind === "not-estimable") return "-";
  const best = harvest.optimum.harvestable.economic ?? harvest.optimum.harvestable.agronomic;
  return best.density === null ? "none" : optimumCell(best.kind, best.density, words.density);
}

type Head = StandabilityReport["lodging"][number];

function lodgingColumns({
  toleratedLodging,
  level,
}: TrialAnalysis["settings"]): { heading: string; align: "left" | "right" }[] {
  const share = statedShare(toleratedLodging);
  return [
    { heading: "Lodged,\nall plots", align: "right" },
    { heading: `${share}\nlodge at`, align: "left" },
    { heading: `\n${significant(100 * level, 4)} % range`, align: "left" },
    { heading: "First\nabove it", align: "left" },
  ];
}

function lodgingCells(one: Head, words: Words): string[] {
  const { limit, flags, lodged, examined } = one;
  const weight = flags.flags.reduce((sum, { plots }) => sum + plots, 0);
  const mean = flags.flags.reduce((sum, flag) => sum + flag.lodged * flag.plots, 0) / weight;
  const total =
    lodged === null || examined === null ? (weight > 0 ? foundShare(mean) : "-") : foundShare(lodged / examined);
  return [
    total,
    limitCell(one, words),
    limit.interval === null ? "" : intervalCell(limit.interval, words.density),
    flags.firstAbove.estimate === null ? "none" : words.density(flags.firstAbove.estimate),
  ];
}

/** Does the range of the limit hold the yield optimum? */
function isClose({ limit }: Head, optimum: number | null): boolean {
  const { interval } = limit;
  if (limit.kind !== "interior" || interval === null || optimum === null) return false;
  return optimum >= (interval.lower ?? limit.range[0]) && optimum <= (interval.upper ?? limit.range[1]);
}

/** Columns up to this one tell of lodging alone. */
const YIELD_FROM = 4;

/** A table with a line for each hybrid: how much lodged, where the limit lies, what decides. */
export function standTable(analysis: TrialAnalysis, words: Words, width: number): string[] {
  let lodged = false;
  const known = analysis.hybrids.flatMap(({ hybrid, pooled }) => {
    const report = pooled.standability;
    const head = report?.lodging.find(({ last, kind }) => last && kind === report.standing.basis);
    if (report == null || head === undefined) return [];
    const judged = pooled.kind === "analysed" && !isUnjudged(pooled);
    const { standing } = report;
    const cells = [
      plainText(hybrid),
      ...lodgingCells(head, words),
      judged && standing.shareAtOptimum !== null ? foundShare(standing.shareAtOptimum) : "-",
      judged ? harvestCell(report.harvest, words) : "-",
      !judged || standing.binds === "undecided"
        ? "undecided"
        : `${standing.binds}${isClose(head, standing.yieldOptimum) ? ", close" : ""}`,
    ];
    if (head.kind !== "push" && head.kind !== "pinch") lodged = true;
    return [cells];
  });
  if (known.length === 0) return [];
  const { settings } = analysis;
  const priced = settings.prices !== null;
  const name = priced ? `Lodged at\nbest ${words.place === "stand" ? "stand" : "rate"}` : "Lodged at\nhighest yield";
  const test = analysis.comparison.lodging?.interaction ?? null;
  const alike =
    test === null
      ? []
      : wrapText(
          test.pValue <= 1 - settings.level
            ? "The hybrids lodge differently as density rises (test of hybrid x density)."
            : `That hybrids lodge differently as density rises is not shown: such differences come by chance in ${percentage(test.pValue)} of trials.`,
          width,
        );
  const columns = [
    { heading: "\nHybrid", align: "left" },
    ...lodgingColumns(settings),
    { heading: name, align: "right" },
    { heading: priced ? "Harvest\npays best at" : "Most is\nharvested at", align: "left" },
    { heading: "What\ndecides", align: "left" },
  ] as const;
  const share = statedShare(settings.toleratedLodging);
  const tolerance = `Up to ${share} of the plants may lodge: where more do, standability decides, not yield.`;
  const failures = `Stalks that fail the test still stand: beyond ${share} of them, harvest early.`;
  const loss = ` The harvest column takes ${settings.lossShare === 0.5 ? "half" : statedShare(settings.lossShare)} of a lodged plant's grain as lost.`;
  // Without a yield curve nothing can be set against the limit.
  const shown = columns.map(
    (_, c) => c <= YIELD_FROM || known.some((row) => !["-", "undecided"].includes(row[c] ?? "")),
  );
  return [
    `How they stand, in ${words.densityUnit}`,
    "",
    ...textTable(
      columns.filter((_, c) => shown[c]),
      known.map((row) => row.filter((_, c) => shown[c])),
      width,
    ),
    "",
    ...wrapText(`${lodged ? tolerance : failures}${shown[YIELD_FROM + 2] ? loss : ""}`, width),
    ...alike,
    "",
  ];
}
