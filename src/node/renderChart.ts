import { AnalysisError } from "../core/errors.ts";
import type { Chart } from "../plot/chart.ts";
import { chartTextWidth, type MeasuredText } from "../plot/textWidth.ts";

/** What is used of the two optional packages; their own types would make them a must. */
interface Vega {
  parse(spec: unknown): unknown;
  View: new (runtime: unknown, options: Readonly<Record<string, unknown>>) => VegaView;
  textMetrics: { width: (item: MeasuredText, text: unknown) => number };
}
interface VegaView {
  toSVG(scale?: number): Promise<string>;
  finalize(): unknown;
}
interface VegaLite {
  compile(spec: unknown, options?: Readonly<Record<string, unknown>>): { spec: unknown };
}

/**
 * Draws charts as SVG, without a browser. Needs the packages `vega` and `vega-lite`, which are optional peers.
 *
 * Labels are text, not outlines, so pictures stay small and can be searched; a viewer without Helvetica or Arial uses its own font.
 *
 * @param chart - from `standcurve/plot`
 * @returns one `<svg>` element with its alternative text as `<title>`
 * @throws AnalysisError `not-offered` when the packages are not installed
 * @example
 * (await renderChart(optimaChart(analysis, { target: "agronomic" }))).startsWith("<svg"); // => true
 */
export async function renderChart(chart: Chart): Promise<string> {
  const { vega, vegaLite } = await loadVega();
  const drawn = queue.then(async () => {
    const { width } = vega.textMetrics;
    vega.textMetrics.width = chartTextWidth;
    const { spec } = vegaLite.compile(chart.spec, { logger: silent });
    const view = new vega.View(vega.parse(spec), { renderer: "none", logger: silent });
    try {
      return named(await view.toSVG(), chart.alt);
    } finally {
      view.finalize();
      vega.textMetrics.width = width;
    }
  });
  queue = drawn.catch(() => undefined);
  return drawn;
}

/** The measure of texts belongs to the whole package, so charts are drawn one after another and it is put back each time. */
let queue: Promise<unknown> = Promise.resolve();

/** Messages of the drawing packages about their own guesses: of no use to the reader of a chart. */
const silent = {
  level: () => silent,
  error: (message: unknown) => {
    throw message instanceof Error ? message : new Error(String(message));
  },
  warn: () => silent,
  info: () => silent,
  debug: () => silent,
};

let loaded: Promise<{ vega: Vega; vegaLite: VegaLite }> | null = null;

function loadVega(): Promise<{ vega: Vega; vegaLite: VegaLite }> {
  loaded ??= load().catch((error: unknown) => {
    loaded = null;
    throw error;
  });
  return loaded;
}

async function load(): Promise<{ vega: Vega; vegaLite: VegaLite }> {
  // Names in variables: the compiler must not ask for packages that may be missing.
  const [first, second]: readonly string[] = ["vega", "vega-lite"];
  try {
    const [vega, vegaLite] = await Promise.all([import(first as string), import(second as string)]);
    return { vega, vegaLite };
  } catch (error) {
    if ((error as { code?: string }).code !== "ERR_MODULE_NOT_FOUND") throw error;
    throw new AnalysisError(
      "not-offered",
      "drawing charts needs the packages vega and vega-lite: npm install vega@6 vega-lite@6",
    );
  }
}

/** The picture says what it shows to those who do not see it. */
function named(svg: string, alt: string): string {
  const text = alt.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(">", "&gt;");
  return svg.replace(
    /<svg\b([^>]*)>/,
    (_, attributes: string) => `<svg role="img"${attributes}><title>${text}</title>`,
  );
}
