import type { CurveAnalysis, HybridAnalysis, NoAnalysis, OptimumReport, TrialAnalysis } from "../analyze/result.ts";
import type { Interval } from "../core/interval.ts";
import type { NearBest } from "../derive/nearBest.ts";
import type { EconomicOptimum, Optimum } from "../derive/optimum.ts";
import { curveLines } from "./curveText.ts";
import { flexSentences } from "./flexText.ts";
import { significant } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";
import { sensitivityText } from "./sensitivityText.ts";
import { textTable } from "./textTable.ts";
import {
  intervalCell,
  intervalText,
  nearBestText,
  optimumCell,
  seedInterval,
  seedsBehind,
  type Words,
} from "./words.ts";

/** One hybrid in words: what pays, what yields most, how sure that is, the curve, the flex score, prices, environments. */
export function hybridText(
  analysis: TrialAnalysis,
  { hybrid, pooled, environments }: HybridAnalysis,
  words: Words,
  width: number,
  full: boolean,
): string[] {
  const name = plainText(hybrid);
  const head = [name, "-".repeat(Math.min([...name].length, width)), ""];
  if (pooled.kind === "not-estimable") {
    return [...head, ...wrapText(`Not analysed: ${plainText(pooled.reason)}.`, width), ""];
  }
  const context: Context = { analysis, curve: pooled, words };
  const paragraphs = [
    pooled.economic === null ? "" : economicSentences(context, pooled.economic),
    agronomicSentences(context, pooled.agronomic),
    flexSentences(pooled, words, analysis.settings.level),
  ];
  return [
    ...head,
    ...paragraphs.filter((text) => text !== "").flatMap((text) => [...wrapText(text, width), ""]),
    ...curveLines(analysis, pooled, words, width, full),
    ...sensitivityText(analysis, pooled, words, width),
    ...environmentTable(analysis, environments, words, width),
  ];
}

interface Context {
  readonly analysis: TrialAnalysis;
  readonly curve: CurveAnalysis;
  readonly words: Words;
}

function economicSentences(context: Context, report: OptimumReport<EconomicOptimum>): string {
  const { analysis, curve, words } = context;
  const { optimum } = report;
  const { density } = optimum;
  if (density === null) return "No density pays better than another on the chosen curve.";
  const spot = planting(context, density);
  const verdict =
    curve.chosen === "flat"
      ? `Yield did not respond to density in these plots, so fewer seeds paid best among those tested: ${spot}. Thinner stands were not tested.`
      : optimum.kind === "lower-edge"
        ? `Fewer seeds paid best among those tested: ${spot}. ${sentence(optimum.note)}`
        : optimum.kind === "upper-edge"
          ? `More seeds paid best among those tested: ${spot}. ${sentence(optimum.note)} How far beyond is not known.`
          : `The best-paying ${words.place} is ${spot}.${optimum.note === null ? "" : ` ${sentence(optimum.note)}`}`;
  const yieldCost = analysis.settings.prices?.yieldCost ? " and the costs that grow with yield" : "";
  const result = `The curve gives ${words.yield(optimum.yield)} ${words.yieldUnit} there, which leaves ${words.moneyPerArea(optimum.return)} after seed${yieldCost}.`;
  return [
    verdict,
    outside(context, optimum),
    result,
    optimum.nearBest === null
      ? ""
      : nearBestSentence(context, optimum.nearBest, `costs less than ${words.moneyPerArea(optimum.nearBest.loss)}`),
    intervalSentences(context, report),
    missing(context, optimum),
  ]
    .filter((text) => text !== "")
    .join(" ");
}

function agronomicSentences(context: Context, report: OptimumReport<Optimum>): string {
  const { analysis, words } = context;
  const { optimum } = report;
  const top = `${words.yield(optimum.yield)} ${words.yieldUnit}`;
  if (optimum.density === null) {
    return `No ${words.place} yields more than another on the chosen curve: it lies at ${top} throughout. ${intervalSentences(context, report)}`;
  }
  const spot = position(context, optimum.density);
  const verdict =
    optimum.kind === "interior"
      ? `Yield is highest, ${top}, at ${spot}.`
      : optimum.kind === "upper-edge"
        ? `Yield is highest, ${top}, at the highest tested ${words.place}, ${spot}.`
        : `Yield is highest, ${top}, at the lowest tested ${words.place}, ${spot}.`;
  const share = significant(100 * analysis.settings.nearBestShare, 2);
  return [
    verdict,
    optimum.note === null ? "" : sentence(optimum.note),
    outside(context, optimum),
    optimum.nearBest === null ? "" : nearBestSentence(context, optimum.nearBest, `yields within ${share} % of that`),
    intervalSentences(context, report),
  ]
    .filter((text) => text !== "")
    .join(" ");
}

/** "28.9 thousand plants/ac: plant 30,500 seeds/ac" on the stand axis; the rate with its stand on the other. */
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
      establishment === null ? "" : ` (a stand of about ${words.density(density * establishment)} thousand)`;
    return `${words.seeds(density)} ${words.seedUnit}${analysis.trial.densityUnit.includes("2") ? "" : stand}`;
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

function nearBestSentence({ analysis, curve, words }: Context, range: NearBest, verdict: string): string {
  const { show, unit } = shown(words);
  const inSeeds =
    words.place === "stand" && seedsBehind(analysis, curve, 1) !== null
      ? ` (${nearBestText(range, (x) => words.seeds(seedsBehind(analysis, curve, x) as number))} ${words.seedUnit})`
      : "";
  const edges = [range.lowerAtEdge ? "lowest" : "", range.upperAtEdge ? "highest" : ""].filter((edge) => edge !== "");
  const edge =
    edges.length === 0
      ? ""
      : `; ${edges.length === 2 ? "these are the lowest and highest" : `${range.lowerAtEdge ? show(range.lower) : show(range.upper)} is the ${edges[0]}`} tested`;
  return `Anything from ${nearBestText(range, show)} ${unit}${inSeeds} ${verdict}${edge}.`;
}

function intervalSentences(context: Context, report: OptimumReport<Optimum>): string {
  const { analysis, curve, words } = context;
  const { interval, chosenFamilyInterval: alone } = report;
  const level = `${significant(100 * interval.level, 4)} %`;
  const { show, unit } = shown(words);
  if (interval.lower === null && interval.upper === null && (interval.pieces?.length ?? 1) < 2) {
    return `This trial gives no range for it (${level}): ${interval.reason ?? "it is not bounded"}.`;
  }
  const seeds = words.place === "stand" ? seedInterval(interval, analysis, curve) : null;
  const inSeeds = seeds === null ? "" : `, that is ${intervalText(seeds, words.seeds)} ${words.seedUnit}`;
  const open =
    interval.lowerOpen && interval.upperOpen
      ? " It is not bounded at either end."
      : interval.lowerOpen
        ? " It is not bounded from below."
        : interval.upperOpen
          ? " It is not bounded from above."
          : "";
  const main = `This trial places it ${between(interval, show)} ${unit}${inSeeds} (${level}).${open}`;
  return `${main}${alone !== null && narrower(report) ? ` The ${curve.chosen} curve by itself would say ${intervalText(alone, show)}; that is too narrow, because it ignores that the curve was chosen from the same plots.` : ""}`;
}

function between(interval: Interval, show: (x: number) => string): string {
  const text = intervalText(interval, show);
  const closed = interval.pieces === undefined && interval.lower !== null && interval.upper !== null;
  return closed && text.includes(" to ") ? `between ${text.replace(" to ", " and ")}` : `at ${text}`;
}

function narrower({ widthRatio, interval, chosenFamilyInterval: alone }: OptimumReport<Optimum>): boolean {
  if (alone === null) return false;
  if (widthRatio !== null) return widthRatio > 1.02;
  const open = (one: Interval): number => Number(one.lowerOpen) + Number(one.upperOpen);
  return open(alone) < open(interval);
}

function missing({ words }: Context, { costOfMissing: cost }: Optimum): string {
  if (cost === null || (cost.below === null && cost.above === null)) return "";
  const side = (value: number | null, where: string): string =>
    value === null ? `${where} was not tested` : `${words.money(value)} when ${where}`;
  const plants = words.seedUnit.replace("seeds", words.place === "stand" ? "plants" : "seeds");
  return `Missing it by ${words.seeds(cost.step)} ${plants} costs, per ${words.area}: ${side(cost.below, "too thin")}, ${side(cost.above, "too thick")}.`;
}

function outside(context: Context, optimum: Optimum): string {
  if (optimum.outside === null) return "";
  const { show, unit } = shown(context.words);
  return `The curve itself turns at ${show(optimum.outside)} ${unit}, outside the tested range: for information, not to plant by.`;
}

function environmentTable(
  analysis: TrialAnalysis,
  environments: readonly (CurveAnalysis | NoAnalysis)[],
  words: Words,
  width: number,
): string[] {
  if (environments.length === 0) return [];
  const priced = analysis.settings.prices !== null;
  const level = significant(100 * analysis.settings.level, 4);
  const rows = environments.map((one) => {
    const name = plainText(one.environment ?? "");
    if (one.kind === "not-estimable") return [name, "not analysed"];
    const seeds = seedsBehind(analysis, one, 1) !== null;
    const show = (x: number): string =>
      seeds ? words.seedsInTable(seedsBehind(analysis, one, x) as number) : words.density(x);
    const pays = one.economic;
    return [
      name,
      one.chosen,
      ...(pays === null
        ? []
        : [optimumCell(pays.optimum.kind, pays.optimum.density, show), intervalCell(pays.interval, show)]),
      optimumCell(one.agronomic.optimum.kind, one.agronomic.optimum.density, words.density),
      intervalCell(one.agronomic.interval, words.density),
      words.yield(one.agronomic.optimum.yield),
    ];
  });
  const columns = [
    { heading: "\nEnvironment", align: "left" },
    { heading: "\nCurve", align: "left" },
    ...(priced
      ? [
          { heading: "Pays best\n(seeds)", align: "left" } as const,
          { heading: `\n${level} % range`, align: "left" } as const,
        ]
      : []),
    { heading: `Yields most\n(${words.place})`, align: "left" },
    { heading: `\n${level} % range`, align: "left" },
    { heading: `Yield\n${words.yieldUnit}`, align: "right" },
  ] as const;
  const refusals = environments.flatMap((one) =>
    one.kind === "not-estimable"
      ? wrapText(`${plainText(one.environment ?? "")}: ${plainText(one.reason)}.`, width, "  ")
      : [],
  );
  return [
    `By environment, in ${words.densityUnit}${priced && words.place === "stand" ? " and thousand seeds" : ""}`.replace(
      "in plants/m2 and thousand seeds",
      "in plants/m2 and seeds/m2",
    ),
    "",
    ...textTable(columns, rows, width, "  "),
    ...refusals,
    "",
  ];
}

function sentence(text: string | null): string {
  return text === null ? "" : `${text.charAt(0).toUpperCase()}${text.slice(1)}.`;
}
