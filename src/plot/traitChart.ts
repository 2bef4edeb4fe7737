import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { BrokenLineFit, TraitInput } from "../standability/fitBrokenLine.ts";
import type { DensityUnit, Trial } from "../trial/trial.ts";
import { number, padded, words } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, finishChart, ringOpacity } from "./chartTheme.ts";
import { densityAxis } from "./densityAxis.ts";
import { nameText, rounded, short } from "./figureText.ts";
import { lanePieces } from "./rangeLane.ts";
import type { UnitView } from "./vegaLite.ts";

export interface TraitChartOptions extends ChartOptions {
  /** Name of the trait with its unit, as the axis shows it: "Stalk diameter, mm". */
  readonly trait: string;
  readonly densityUnit?: DensityUnit;
  readonly densityAxis?: Trial["densityAxis"];
  readonly hybrid?: string;
}

/** What `TraitChartOptions` must look like. */
export const traitChartOptionsShape: { readonly [property: string]: Shape } = {
  ...chartOptionsShape,
  trait: "text",
  densityUnit: "text?",
  densityAxis: "text?",
  hybrid: "text?",
};

/**
 * A trait against density with the straight and the broken line, the break and its range.
 *
 * @param fit - from `fitBrokenLine`
 * @param input - the plots it was fitted to
 * @throws AnalysisError `length-mismatch` when the arrays differ in length
 * @example
 * const data = { density: [18, 23, 28, 33, 38, 43], trait: [28, 27.6, 27.1, 25.9, 24.4, 23.2] };
 * traitChart(fitBrokenLine(data, { simulations: 99 }), data, { trait: "Stalk diameter, mm" }).alt.includes("mm"); // => true
 */
export function traitChart(
  fit: BrokenLineFit,
  input: Pick<TraitInput, "density" | "trait">,
  options: TraitChartOptions,
): Chart {
  checkShape(fit, "fit", "standcurve/broken-line/1");
  checkShape(input, "input", { density: "numbers", trait: "numbers" });
  checkShape(options, "options", traitChartOptionsShape, "invalid-option");
  const theme = chartTheme(options);
  const density = Array.from(input.density);
  const trait = Array.from(input.trait);
  check(
    density.length === trait.length,
    "length-mismatch",
    `density has ${density.length} values but trait has ${trait.length}`,
  );
  const [low, high] = fit.range;
  const axis = densityAxis(
    { densityUnit: options.densityUnit ?? "1000 plants/ac", densityAxis: options.densityAxis ?? "mean-stand" },
    high,
  );
  const xDomain = padded([low * axis.scale, high * axis.scale], 0.04);
  const yDomain = padded(trait, 0.06);
  const x = number("x", xDomain);
  const y = number("y", yDomain);
  const { break: at, slopes, intercept, straight } = fit;
  const broken =
    at !== null && intercept !== null && slopes.left !== null && slopes.right !== null
      ? [low, at, high].map((d) => ({
          x: short(d * axis.scale),
          y: short(
            intercept + (slopes.left as number) * Math.min(d, at) + (slopes.right as number) * Math.max(d - at, 0),
          ),
        }))
      : [];
  const layer: UnitView[] = [];
  const add = (
    values: NonNullable<UnitView["data"]>["values"],
    mark: UnitView["mark"],
    encoding: UnitView["encoding"],
  ): void => {
    if (values.length > 0) layer.push({ data: { values }, mark, encoding: encoding ?? {} });
  };
  if (at !== null) {
    add(
      lanePieces(fit.interval).map(({ lower, upper }) => ({
        x: lower === null ? xDomain[0] : short(lower * axis.scale),
        to: upper === null ? xDomain[1] : short(upper * axis.scale),
      })),
      { type: "rect", color: theme.shade, opacity: 0.18 },
      { x, x2: { field: "to" } },
    );
    add(
      [{ x: short(at * axis.scale) }],
      { type: "rule", color: theme.lodging, strokeDash: [6, 3], strokeWidth: theme.stroke * 0.8 },
      { x },
    );
    const right = at * axis.scale > (xDomain[0] + 2 * xDomain[1]) / 3;
    add(
      [{ x: short(at * axis.scale), y: yDomain[1], text: `break at ${axis.text(at)}` }],
      { type: "text", align: right ? "right" : "left", baseline: "top", dx: right ? -6 : 6, dy: 2, color: theme.ink },
      { x, y, text: words },
    );
  }
  add(
    density.map((d, i) => ({ x: short(d * axis.scale), y: short(trait[i]) })),
    {
      type: "point",
      filled: false,
      color: theme.muted,
      opacity: ringOpacity,
      size: theme.symbol * 0.6,
      strokeWidth: theme.stroke / 2,
    },
    { x, y },
  );
  if (straight !== null) {
    add(
      [low, high].map((d) => ({ x: short(d * axis.scale), y: short(straight.intercept + straight.slope * d) })),
      { type: "line", color: theme.muted, strokeDash: [2, 3], strokeWidth: theme.stroke * 0.7 },
      { x, y },
    );
  }
  add(broken, { type: "line", color: theme.ink, strokeWidth: theme.stroke }, { x, y });
  const name = options.hybrid === undefined ? "" : `${nameText(options.hybrid)}: `;
  const what = nameText(options.trait, 60);
  const p =
    fit.pValue === null
      ? ""
      : ` Against a straight line: p ${fit.pValue < 0.001 ? "< 0.001" : `= ${rounded(fit.pValue, 2)}`}.`;
  const verdict =
    at === null
      ? (fit.note ?? "No break could be placed.")
      : `Slope ${rounded(slopes.left ?? 0, 3)} below the break, ${rounded(slopes.right ?? 0, 3)} above it, per ${axis.unit}.`;
  return finishChart(
    theme,
    {
      title: options.title ?? `${name}${what.split(",")[0]} against ${axis.place}`,
      notes: [`${verdict}${p} Dotted: straight line.${at === null ? "" : " Shaded: where the break may lie."}`],
      alt: `${name}${what} against ${axis.place}, ${density.length} plots from ${axis.text(low)} to ${axis.text(high)} ${axis.unit}. ${at === null ? "" : `Break at ${axis.text(at)}. `}${verdict}${p}`,
    },
    {
      width: theme.width,
      height: theme.height,
      layer,
      encoding: { x: { axis: { title: axis.title } }, y: { axis: { title: what } } },
    },
  );
}
