import type { CurveAnalysis, HybridAnalysis, TrialAnalysis } from "../analyze/result.ts";
import { acrossText } from "./acrossText.ts";
import { curveLines } from "./curveText.ts";
import { environmentText } from "./environmentText.ts";
import { flexSentences } from "./flexText.ts";
import { significant } from "./numberText.ts";
import { agronomicSentences, type Context, economicSentences } from "./optimumText.ts";
import { plainText, textWidth, wrapText } from "./plainText.ts";
import { scrutinyLines } from "./scrutinyText.ts";
import { sensitivityText } from "./sensitivityText.ts";
import { standabilityLines } from "./standabilityText.ts";
import { standWarning } from "./standVerdict.ts";
import { isUnjudged, type Words } from "./words.ts";

/** One hybrid in words: what pays, what yields most, how sure that is, the curve, the flex score, prices, environments. */
export function hybridText(
  analysis: TrialAnalysis,
  one: HybridAnalysis,
  words: Words,
  width: number,
  full: boolean,
): string[] {
  const { hybrid, pooled, environments } = one;
  const name = plainText(hybrid);
  const head = [
    ...wrapText(name, width),
    "-".repeat(Math.min(textWidth(name), width)),
    "",
    ...standWarning(pooled, words, analysis.settings.level, width),
  ];
  if (pooled.kind === "not-estimable") {
    return [
      ...head,
      ...wrapText(
        `${pooled.standability === null ? "Not" : "Yield not"} analysed: ${plainText(pooled.reason)}.`,
        width,
      ),
      "",
      ...standabilityLines(analysis, one, words, width, full),
    ];
  }
  const context: Context = { analysis, curve: pooled, words };
  const paragraphs = isUnjudged(pooled)
    ? [unjudged(pooled)]
    : [
        pooled.economic === null ? "" : economicSentences(context, pooled.economic),
        agronomicSentences(context, pooled.agronomic),
        flexSentences(pooled, words, analysis.settings.level),
      ];
  return [
    ...head,
    ...paragraphs.filter((text) => text !== "").flatMap((text) => [...wrapText(text, width), ""]),
    ...curveLines(analysis, pooled, words, width, full),
    ...(isUnjudged(pooled) ? [] : scrutinyLines(pooled, words, width, full)),
    ...(isUnjudged(pooled) ? [] : sensitivityText(analysis, pooled, words, width)),
    ...environmentText(analysis, environments, words, width),
    ...acrossText(analysis, one, words, width),
    ...standabilityLines(analysis, one, words, width, full),
  ];
}

function unjudged({ comparison, agronomic }: CurveAnalysis): string {
  const lead = "These plots do not settle how yield responds to density.";
  if (comparison.fits.length === 1) return `${lead} Only the flat curve was asked for, which supposes no response.`;
  return agronomic.interval.flatNotExcluded
    ? `${lead} The flat curve is shown only because the others need more plots than there are.`
    : `${lead} They exclude "no response" (${significant(100 * agronomic.interval.level, 4)} %), yet are too few for AICc to prefer any curve to the flat one.`;
}
