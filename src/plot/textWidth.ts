import { checkShape, type Shape } from "../core/checkShape.ts";
import { shown } from "../core/shown.ts";

/**
 * Width of a text in units of its font size, for laying out charts where no screen can measure it: advance widths of DejaVu Sans, the
 * widest of the fonts charts ask for, so that nothing is cut off in any of them.
 *
 * Source: advance widths in DejaVuSans.ttf 2.37 (units / 2048), rounded up to 0.01.
 */
function textWidth(text: string): number {
  let width = 0;
  for (const letter of text) width += widths.get(letter) ?? (/[\p{Lu}\u2e80-\uffff]/u.test(letter) ? 0.8 : 0.65);
  return width;
}

const groups: readonly (readonly [number, string])[] = [
  [0, "\u200b"],
  [0.28, "ijl"],
  [0.3, "IJ'"],
  [0.32, " .,"],
  [0.34, ":;/|\\"],
  [0.36, "f-"],
  [0.4, "rt()[]!"],
  [0.46, '"'],
  [0.53, "sz"],
  [0.56, "cFL?"],
  [0.6, "kvxyo"],
  [0.62, "aeTYZP"],
  [0.64, "bdghnpqu0123456789$S_*"],
  [0.7, "ABCEKRVX"],
  [0.78, "DGHNOQU&"],
  [0.84, "w+=<>~"],
  [0.87, "M"],
  [0.96, "%"],
  [0.99, "mW…@"],
];
const widths: ReadonlyMap<string, number> = new Map(
  groups.flatMap(([width, letters]) => [...letters].map((letter) => [letter, width])),
);

/** What is measured: a text mark of Vega. */
export interface MeasuredText {
  readonly fontSize?: number;
  readonly fontWeight?: string | number;
}

/** What `MeasuredText` must look like. */
export const measuredTextShape: { readonly [property: string]: Shape } = { fontSize: "number?", fontWeight: "any?" };

/**
 * Width of a chart's text in pixels: to be set as `vega.textMetrics.width` where there is no canvas (Node, workers), since Vega's own guess
 * there is half as wide again and would blow up the margins.
 *
 * @example
 * chartTextWidth({ fontSize: 10 }, "ill") < chartTextWidth({ fontSize: 10 }, "mmm"); // => true
 */
export function chartTextWidth(input: MeasuredText, text: unknown): number {
  checkShape(input, "input", measuredTextShape);
  const { fontSize = 11, fontWeight } = input;
  const bold = fontWeight === "bold" || Number(fontWeight) >= 600 ? 1.1 : 1;
  return text == null ? 0 : textWidth(typeof text === "string" ? text : shown(text)) * fontSize * bold;
}
