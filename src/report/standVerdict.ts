import type { CurveAnalysis, NoAnalysis, TrialAnalysis } from "../analyze/result.ts";
import type { LodgingReport, StandabilityReport } from "../analyze/standability.ts";
import { listText, significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import {
  countedWhen,
  densityUnitOf,
  foundShare,
  kindSubject,
  limitRange,
  optimumName,
  placeText,
  shownDensity,
  statedShare,
} from "./standWords.ts";
import { isUnjudged, type Words } from "./words.ts";

/**
 * Where the tolerated share is passed and what that means beside the yield optimum, in a sentence or two.
 *
 * @param judged - the yield response is settled well enough to be set against the limit
 */
export function verdictSentences(report: StandabilityReport, judged: boolean, words: Words, level: number): string {
  const { standing } = report;
  const head = report.lodging.find(({ last, kind }) => last && kind === standing.basis);
  if (head === undefined) return "";
  const sentence = limitSentence(head, words, level);
  const x = standing.yieldOptimum;
  if (!judged || x === null) return `${sentence}.`;
  const name = optimumName(standing, words);
  const test = head.kind === "push" || head.kind === "pinch";
  if (standing.binds === "undecided") return `${sentence}.${test && caps(report) ? ` ${weakStalks(name)}` : ""}`;
  const show = shownDensity(words);
  const lodging = standing.shareAtOptimum === null ? "" : `, where ${foundShare(standing.shareAtOptimum)} lodge`;
  const there = test ? lodging.replace(/lodge$/, "fail") : lodging;
  if (head.limit.kind === "above-range") return `${sentence}, so yield decides.`;
  if (head.limit.kind === "below-range")
    return `${sentence}, so standability decides${sureAtLowest(head) ? `, and no tested ${words.place} meets it` : ""}.`;
  if (standing.binds === "standability") {
    const close = standing.overlap === true ? " The two ranges overlap, so that is not certain." : "";
    return `${sentence}: below the ${name} of ${show(x)}${there}, so standability decides.${close}`;
  }
  const close = standing.overlap === true ? " The two ranges overlap, so it is a close call: do not go above it." : "";
  return `${sentence}: above the ${name} of ${show(x)}${there}, so yield decides.${close}`;
}

/**
 * Where one kind of lodging passes the tolerated share, without the full stop.
 *
 * @param said - a report whose time of counting the reader knows already
 */
export function limitSentence(
  { kind, time, limit, axes, fit }: LodgingReport,
  words: Words,
  level: number,
  said?: LodgingReport,
): string {
  const known = said !== undefined && countedWhen(said.time) === countedWhen(time);
  const when = known ? "" : countedWhen(time);
  const what = `${kindSubject[kind]}${when === "" ? "" : ` (${when})`}`;
  const share = statedShare(limit.tolerated);
  const [low, high] = limit.range;
  const show = shownDensity(words);
  const unit = densityUnitOf(words);
  const sure = `${significant(100 * level, 4)} %`;
  if (limit.noneLodged !== null) {
    const { statement } = limit.noneLodged;
    const start = kind === "push" || kind === "pinch" ? `No stalk failed the ${kind} test` : "No plant lodged";
    const enough = limit.kind === "above-range" ? "" : "; that is too few plants to say up to which density it holds";
    return `${start}${when === "" ? "" : ` (${when})`} (${statement}, if plants fall independently)${enough}`;
  }
  const lower = limit.interval?.lower ?? null;
  switch (limit.kind) {
    case "interior": {
      const range = limitRange(limit.interval, show);
      const place = placeText(limit.density as number, axes, words, range === "" ? "" : `${sure} range ${range}`);
      return `${what} passes ${share} at ${place}${range === "" ? ", but this trial bounds that on neither side" : ""}`;
    }
    case "above-range": {
      const alone = fit.dispersionModel === "binomial" ? ", if plants fall independently of each other" : "";
      const main = `${what} stays below ${share} up to the highest tested ${words.place}, ${show(high)} ${unit}`;
      if (lower === null) return `${main}, but this trial is too small to be sure of it at any`;
      return show(lower) === show(high) || lower >= high
        ? `${main}, with ${sure} confidence${alone}`
        : `${main}; with ${sure} confidence${alone} it does up to ${show(lower)}`;
    }
    case "below-range": {
      const main = `${what} exceeds ${share} even at the lowest tested ${words.place}, ${show(low)} ${unit}`;
      const upper = limit.interval?.upper ?? null;
      return upper === null || show(upper) === show(low)
        ? main
        : `${main} (the ${sure} range of where it is passed reaches up to ${show(upper)})`;
    }
    case "none":
      return fit.status === "singular"
        ? `${what}: no limit can be named, since no block holds two densities`
        : `${what}: ${lowerFirst(plainText(limit.reason ?? "no limit can be named")).replace(/\.$/, "")}`;
  }
}

const MOST_NAMED = 5;

/** What it means when a test of stalks fails at the density that yield asks for. */
export function weakStalks(name: string): string {
  return `Stalks are weak at the ${name}: such fields are harvested first.`;
}

/** The verdict as a marked paragraph when standability caps the density or nearly does. */
export function standWarning(pooled: CurveAnalysis | NoAnalysis, words: Words, level: number, width: number): string[] {
  const report = pooled.standability;
  if (report === null || !caps(report)) return [];
  const judged = pooled.kind === "analysed" && !isUnjudged(pooled);
  return [...wrapText(verdictSentences(report, judged, words, level), width, "! ", "  "), ""];
}

/** Is there a density in or below the tested range at which too many lodge? */
export function caps({ standing: { limitKind } }: StandabilityReport): boolean {
  return limitKind === "below-range" || limitKind === "interior";
}

/** For the top of the report: the hybrids whose density standability decides or nearly decides. */
export function standHeadText(analysis: TrialAnalysis, words: Words, width: number): string[] {
  const { level } = analysis.settings;
  const known = analysis.hybrids.flatMap(({ hybrid, pooled }) => {
    const report = pooled.standability;
    if (report === null || report.standing.basis === null) return [];
    const judged = pooled.kind === "analysed" && !isUnjudged(pooled);
    return [{ hybrid: plainText(hybrid), report, judged }];
  });
  if (known.length === 0) return [];
  // Those that standability decides come first, then the close calls.
  const urgency = ({ report: { standing } }: (typeof known)[number]): number =>
    standing.binds === "standability" ? 0 : standing.overlap === true ? 1 : 2;
  const matters = known.filter(({ report }) => caps(report)).sort((a, b) => urgency(a) - urgency(b));
  const lines = matters
    .slice(0, MOST_NAMED)
    .flatMap(({ hybrid, report, judged }) =>
      wrapText(`${hybrid}: ${lowerFirst(verdictSentences(report, judged, words, level))}`, width, "! ", "  "),
    );
  const more = matters.length - MOST_NAMED;
  if (more > 0) lines.push(...wrapText(`${more} more hybrids have a standability limit; see the table.`, width));
  const safe = known.filter(({ report }) => report.standing.limitKind === "above-range").map(({ hybrid }) => hybrid);
  const unplaced = known.filter(({ report }) => report.standing.limitKind === "none").map(({ hybrid }) => hybrid);
  const share = statedShare(analysis.settings.toleratedLodging);
  const whom = (names: readonly string[]): string =>
    names.length === known.length
      ? known.length === 1
        ? (names[0] ?? "")
        : "all hybrids"
      : names.length <= MOST_NAMED
        ? listText(names)
        : `${names.length} hybrids`;
  const rest = [
    safe.length === 0 ? "" : `Lodging stays below ${share} at every tested ${words.place} for ${whom(safe)}.`,
    unplaced.length === 0 ? "" : `The counts do not place a standability limit for ${whom(unplaced)}.`,
  ].filter((text) => text !== "");
  if (rest.length > 0) lines.push(...wrapText(rest.join(" "), width));
  return [...lines, ""];
}

/** Does even the lowest tested density lodge too much, beyond doubt? */
function sureAtLowest({ flags }: LodgingReport): boolean {
  return flags.flags[0]?.state === "lodges";
}

function lowerFirst(text: string): string {
  return text.charAt(0).toLowerCase() + text.slice(1);
}
