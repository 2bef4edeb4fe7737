import { checkShape } from "../core/checkShape.ts";
import type { Chart } from "./chart.ts";
import { jupyterDisplay, type MimeBundle, type SelfDisplaying } from "./jupyterDisplay.ts";
import { svgAddress } from "./svgAddress.ts";

export interface DisplayChartOptions {
  /** Draws the chart as SVG: `renderChart` of `standcurve/node`. Adds the picture for viewers that know no Vega-Lite. */
  readonly render?: (chart: Chart) => Promise<string>;
}

/**
 * The chart in a form that shows itself when it is the last value of a notebook cell: Vega-Lite, the picture where it can be drawn, and
 * its words.
 *
 * The answer is the same data (`JSON.stringify` gives the same text) with one method under the symbol of the Jupyter display protocol,
 * which Deno's kernel asks for.
 *
 * @example
 * const chart = displayChart(responseChart(analysis, { hybrid: "Amber 12" }));
 * Object.keys(chart).sort(); // => ["alt", "spec"]
 */
export function displayChart(chart: Chart, options: DisplayChartOptions = {}): SelfDisplaying<Chart> {
  checkShape(chart, "chart", { spec: "object", alt: "text" });
  checkShape(options, "options", { render: "function?" }, "invalid-option");
  const { render } = options;
  return {
    ...chart,
    async [jupyterDisplay](): Promise<MimeBundle> {
      // Notebooks of today ask for version 5; the charts use nothing that versions 5 and 6 read differently.
      const spec = { ...chart.spec, $schema: chart.spec.$schema.replace("v6", "v5") };
      return {
        "application/vnd.vegalite.v5+json": spec,
        ...(render === undefined ? {} : { "text/html": pictureHtml(await render(chart), chart.alt) }),
        "text/plain": chart.alt,
      };
    },
  };
}

/**
 * A drawing as an HTML image, for notebooks that strip SVG elements and for kernels with a display function of their own
 * (`tslab.display.html`).
 *
 * @example
 * pictureHtml("<svg></svg>", "A curve").startsWith('<img alt="A curve"'); // => true
 */
export function pictureHtml(svg: string, alt: string): string {
  checkShape(svg, "svg", "text", "invalid-option");
  checkShape(alt, "alt", "text", "invalid-option");
  const text = alt.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(">", "&gt;").replaceAll('"', "&quot;");
  return `<img alt="${text}" src="${svgAddress(svg)}">`;
}
