import { spawn } from "node:child_process";
import { AnalysisError } from "../core/errors.ts";
import type { Chart } from "../plot/chart.ts";
import { renderChart } from "./renderChart.ts";

export interface RenderPngOptions {
  /** Pixels for one unit of the chart; default 2. */
  readonly zoom?: number;
}

/**
 * Draws a chart as PNG: `renderChart`, then the package `@resvg/resvg-js` when it is installed, else the program `rsvg-convert`
 * (Debian: librsvg2-bin).
 *
 * @throws AnalysisError `not-offered` when neither is there, or vega is not; `invalid-option` for a zoom that is not > 0 and <= 10
 * @example
 * (await renderChartPng(optimaChart(analysis, { target: "agronomic" })))[1]; // => 0x50
 */
export async function renderChartPng(chart: Chart, { zoom = 2 }: RenderPngOptions = {}): Promise<Uint8Array> {
  if (!(zoom > 0 && zoom <= 10)) {
    throw new AnalysisError("invalid-option", `zoom must be > 0 and at most 10, got ${zoom}`);
  }
  const svg = await renderChart(chart);
  const name: string = "@resvg/resvg-js";
  const resvg = await import(name).catch((error: { code?: string }) => {
    if (error.code === "ERR_MODULE_NOT_FOUND") return null;
    throw error;
  });
  if (resvg === null) return rsvgConvert(svg, zoom);
  // Its own default is a serif font, whatever the drawing asks for, where none of the fonts named first is installed.
  const font = { loadSystemFonts: true, defaultFontFamily: "DejaVu Sans", sansSerifFamily: "DejaVu Sans" };
  return new resvg.Resvg(svg, { fitTo: { mode: "zoom", value: zoom }, font }).render().asPng();
}

/** The second way: the program of librsvg. */
export function rsvgConvert(svg: string, zoom: number): Promise<Uint8Array> {
  return new Promise((resolve, reject) => {
    const child = spawn("rsvg-convert", ["--format", "png", "--zoom", String(zoom)], {
      stdio: ["pipe", "pipe", "pipe"],
    });
    const out: Uint8Array[] = [];
    let problem = "";
    child.stdout.on("data", (piece: Uint8Array) => out.push(piece));
    child.stderr.on("data", (piece: Uint8Array) => {
      problem += String(piece);
    });
    child.stdin.on("error", () => undefined);
    child.on("error", (error: NodeJS.ErrnoException) =>
      reject(
        error.code === "ENOENT"
          ? new AnalysisError(
              "not-offered",
              "PNG needs the package @resvg/resvg-js (npm install @resvg/resvg-js) or the program rsvg-convert (Debian: librsvg2-bin)",
            )
          : error,
      ),
    );
    child.on("close", (code) =>
      code === 0 ? resolve(Buffer.concat(out)) : reject(new Error(`rsvg-convert failed: ${problem.trim()}`)),
    );
    child.stdin.end(svg);
  });
}
