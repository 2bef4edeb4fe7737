import type { CurveAnalysis, OptimumReport, TrialAnalysis } from "../analyze/result.ts";
import type { Interval } from "../core/interval.ts";
import type { NearBest } from "../derive/nearBest.ts";
import type { EconomicOptimum, Optimum } from "../derive/optimum.ts";
import { intervalText, isEmpty, nearBestText } from "./intervalWords.ts";
import { significant } from "./numberText.ts";
import { seedInterval, seedsBehind } from "./seedsBehind.ts";
import type { Words } from "./words.ts";

/** What the sentences about one curve need. */
export interface Context {
  readonly analysis: TrialAnalysis;
  readonly curve: CurveAnalysis;
  readonly words: Words;
}

/** What pays best on the chosen curve, how much a miss costs, and where this trial places the optimum. */
export function economicSentences(context: Context, report: OptimumReport<EconomicOptimum>): string {
  const { analysis, words } = context;
  const { optimum } = report;
  const { density, nearBest } = optimum;
  if (density === null) return "No density pays better than another on the chosen curve.";
  const yieldCost = analysis.settings.prices?.yieldCost ? " and the costs that grow with yield" : "";
  return paragraph([
    economicVerdict(context, optimum, density),
    outside(context, optimum),
    `The curve gives ${words.yield(optimum.yield)} ${words.yieldUnit} there, which leaves ${words.moneyPerArea(optimum.return)} after seed${yieldCost}.`,
    nearBest === null
      ? ""
      : nearBestSentence(context, nearBest, {
          within: `costs less than ${words.moneyPerArea(nearBest.loss)}`,
          beyond: `costs more than ${words.moneyPerArea(nearBest.loss)}`,
        }),
    intervalSentences(context, report, "long"),
    missing(context, optimum),
  ]);
}

function economicVerdict(context: Context, { kind, note }: Optimum, density: number): string {
  const { curve, words } = context;
  if (curve.chosen === "flat") {
    return `Yield did not respond to density in these plots, so fewer seeds paid best among those tested: ${planting(context, density)}. Nothing thinner was tested: do not go below it on this evidence.`;
  }
  if (kind === "lower-edge") {
    return `Fewer seeds paid best among those tested: ${planting(context, density)}. ${sentence(note)} Nothing thinner was tested.`;
  }
  if (kind === "upper-edge") {
    return `More seeds paid best among those tested: ${planting(context, density)}. ${sentence(note)} Nothing denser was tested.`;
  }
  return paragraph([`The best-paying ${words.place} is ${planting(context, density)}.`, sentence(note)]);
}

/** What yields most on the chosen curve, and where this trial places the optimum. */
export function agronomicSentences(context: Context, report: OptimumReport<Optimum>): string {
  const { analysis, curve, words } = context;
  const { optimum } = report;
  const { density, kind, nearBest } = optimum;
  const top = `${words.yield(optimum.yield)} ${words.yieldUnit}`;
  if (density === null) {
    return paragraph([
      `No ${words.place} yields more than another on the chosen curve: it lies at ${top} throughout.`,
      intervalSentences(context, report, "short"),
    ]);
  }
  const end = kind === "interior" ? "" : `the ${kind === "upper-edge" ? "highest" : "lowest"} tested ${words.place}, `;
  const share = significant(100 * analysis.settings.nearBestShare, 2);
  return paragraph([
    `Yield is highest, ${top}, at ${end}${position(context, density)}.`,
    // The economic paragraph has said it already.
    curve.economic?.optimum.note === optimum.note ? "" : sentence(optimum.note),
    outside(context, optimum),
    nearBest === null
      ? ""
      : nearBestSentence(context, nearBest, {
          within: `yields within ${share} % of that`,
          beyond: `yields less than that by more than ${share} %`,
        }),
    intervalSentences(context, report, curve.economic === null ? "long" : "short"),
  ]);
}

/** "28.9 thousand plants/ac, which takes 30,500 seeds/ac" on the stand axis; the rate with its stand on the other. */
function planting(context: Context, density: number): string {
  const { analysis, curve, words } = context;
  if (words.place === "seeding rate") return position(context, density);
  const rate = seedsBehind(analysis, curve, density);
  const stand = `${words.density(density)} ${words.densityUnit}`;
  return rate === null
    ? `${stand} (no seeding rates were given, so add the seeds that will not come up)`
    : `${stand}, which takes ${words.seeds(rate)} ${words.seedUnit}`;
}

function position({ analysis, curve, words }: Context, density: number): string {
  if (words.place === "seeding rate") {
    const { establishment } = curve;
    const stand =
      establishment === null ? "" : ` (a stand of about ${words.density(density * establishment)} ${words.standUnit})`;
    return `${words.seeds(density)} ${words.seedUnit}${stand}`;
  }
  const rate = seedsBehind(analysis, curve, density);
  const seeds = rate === null ? "" : ` (${words.seeds(rate)} ${words.seedUnit})`;
  return `${words.density(density)} ${words.densityUnit}${seeds}`;
}

function shown(words: Words): { show: (x: number) => string; unit: string } {
  return words.place === "stand"
    ? { show: words.density, unit: words.densityUnit }
    : { show: words.seeds, unit: words.seedUnit };
}

function nearBestSentence(
  { analysis, curve, words }: Context,
  range: NearBest,
  verdict: { within: string; beyond: string },
): string {
  const { show, unit } = shown(words);
  const text = nearBestText(range, show);
  if (!text.includes(" to ")) return `On this curve any other ${words.place} ${verdict.beyond}.`;
  const inSeeds =
    words.place === "stand" && seedsBehind(analysis, curve, 1) !== null
      ? ` (${nearBestText(range, (x) => words.seeds(seedsBehind(analysis, curve, x) as number))} ${words.seedUnit})`
      : "";
  const edge =
    range.lowerAtEdge && range.upperAtEdge
      ? ", the whole tested range"
      : range.lowerAtEdge
        ? `; ${show(range.lower)} is the lowest tested`
        : range.upperAtEdge
          ? `; ${show(range.upper)} is the highest tested`
          : "";
  return `On this curve anything from ${text} ${unit}${inSeeds} ${verdict.within}${edge}.`;
}

function intervalSentences(context: Context, report: OptimumReport<Optimum>, style: "long" | "short"): string {
  const { analysis, curve, words } = context;
  const { interval, chosenFamilyInterval: alone } = report;
  const level = `${significant(100 * interval.level, 4)} %`;
  const { show, unit } = shown(words);
  if (isEmpty(interval)) return `There is no ${level} range for it: the plots show no scatter to judge it by.`;
  if (interval.lower === null && interval.upper === null && (interval.pieces?.length ?? 1) < 2) {
    return `There is no ${level} range for it: ${interval.reason ?? "this trial does not bound it"}.`;
  }
  const seeds = words.place === "stand" ? seedInterval(interval, analysis, curve) : null;
  const inSeeds = seeds === null ? "" : ` (${intervalText(seeds, words.seeds, words.seedUnit)})`;
  const open =
    interval.lowerOpen && interval.upperOpen
      ? " It is bounded at neither end."
      : interval.lowerOpen
        ? " It is not bounded from below."
        : interval.upperOpen
          ? " It is not bounded from above."
          : "";
  const main = `This trial places it ${between(interval, show, unit)}${inSeeds}, with ${level} confidence.${open}`;
  if (alone === null || !isNarrower(report)) return main;
  const own = intervalText(alone, show);
  return style === "long"
    ? `${main} The ${curve.chosen} curve by itself would say ${own}; that is narrower only because it ignores that the curve was chosen from the same plots.`
    : `${main} (The ${curve.chosen} by itself: ${own}.)`;
}

function between(interval: Interval, show: (x: number) => string, unit: string): string {
  const text = intervalText(interval, show, unit);
  const closed = interval.pieces === undefined && interval.lower !== null && interval.upper !== null;
  return closed && text.includes(" to ") ? `between ${text.replace(" to ", " and ")}` : `at ${text}`;
}

function isNarrower({ widthRatio, interval, chosenFamilyInterval: alone }: OptimumReport<Optimum>): boolean {
  if (alone === null) return false;
  if (widthRatio !== null) return widthRatio > 1.02;
  const open = (one: Interval): number => Number(one.lowerOpen) + Number(one.upperOpen);
  return open(alone) < open(interval);
}

function missing({ words }: Context, { costOfMissing: cost }: Optimum): string {
  if (cost === null || (cost.below === null && cost.above === null)) return "";
  const untested = cost.below === null ? "thinner" : "denser";
  const sides = [
    ...(cost.below === null ? [] : [`${words.money(cost.below)} when too thin`]),
    ...(cost.above === null ? [] : [`${words.money(cost.above)} when too thick`]),
  ];
  const plants = words.place === "stand" ? words.seedUnit.replace("seeds", "plants") : words.seedUnit;
  return `Missing it by ${words.seeds(cost.step)} ${plants} costs ${sides.join(" and ")}, per ${words.area}${sides.length === 1 ? ` (${untested} was not tested)` : ""}.`;
}

function outside({ words }: Context, optimum: Optimum): string {
  if (optimum.outside === null) return "";
  const { show, unit } = shown(words);
  return `The curve itself turns at ${show(optimum.outside)} ${unit}, outside the tested range: for information, not to plant by.`;
}

function paragraph(sentences: readonly string[]): string {
  return sentences.filter((text) => text !== "").join(" ");
}

function sentence(text: string | null): string {
  return text === null ? "" : `${text.charAt(0).toUpperCase()}${text.slice(1)}.`;
}
