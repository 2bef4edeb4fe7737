import type { Shape } from "../core/checkShape.ts";
import type { ChartSpec } from "./vegaLite.ts";

/** A chart as data: a Vega-Lite specification and a text that says what it shows. */
export interface Chart {
  readonly spec: ChartSpec;
  /** For someone who does not see the picture; also the description inside the spec. */
  readonly alt: string;
}

export interface ChartOptions {
  /** `page` (default): a column of a page; `slide`: big letters and lines; `small`: one of many, without explanations. */
  readonly size?: "page" | "slide" | "small";
  /** Default `light`. */
  readonly mode?: "light" | "dark";
  /** "$", "EUR" or nothing (default). */
  readonly currency?: string;
  /** Replaces the title. */
  readonly title?: string;
}

/** What `ChartOptions` must look like. */
export const chartOptionsShape: { readonly [property: string]: Shape } = {
  size: "text?",
  mode: "text?",
  currency: "text?",
  title: "text?",
};
