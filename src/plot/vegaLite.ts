/**
 * The small part of Vega-Lite that the charts use, as plain JSON. Nothing of Vega is imported: the specs are data, checked
 * against the published JSON Schema of Vega-Lite in the tests.
 */

export type Cell = string | number | boolean | null;
export type Row = { readonly [name: string]: Cell };

export type MarkType = "area" | "bar" | "geoshape" | "line" | "point" | "rect" | "rule" | "text" | "tick";

export interface Mark {
  readonly type: MarkType;
  readonly [property: string]: Cell | readonly number[] | Readonly<Record<string, Cell>>;
}

export interface Axis {
  readonly [property: string]: Cell | readonly (string | number)[];
}

export interface Scale {
  readonly type?: "linear" | "log" | "ordinal" | "threshold" | "identity";
  readonly domain?: readonly (string | number)[];
  readonly range?: readonly (string | number | readonly number[])[];
  readonly zero?: boolean;
  readonly nice?: boolean;
  readonly reverse?: boolean;
  readonly paddingInner?: number;
  readonly paddingOuter?: number;
}

export interface Channel {
  readonly field?: string;
  readonly type?: "quantitative" | "nominal" | "ordinal" | "geojson";
  readonly value?: Cell;
  readonly datum?: Cell;
  readonly title?: string | null;
  readonly axis?: Axis | null;
  readonly scale?: Scale | null;
  readonly legend?: Axis | null;
  readonly sort?: readonly string[] | "ascending" | "descending" | null;
  readonly stack?: "zero" | "normalize" | null;
  readonly format?: string;
  readonly bandPosition?: number;
}

export type Encoding = { readonly [channel: string]: Channel | readonly Channel[] };

export interface UnitView {
  readonly data?: { readonly values: readonly (Row | GeoFeature)[] };
  readonly mark: Mark;
  readonly encoding?: Encoding;
  readonly projection?: { readonly type: string };
  readonly width?: number;
  readonly height?: number;
  readonly title?: Title;
}

export interface LayerView {
  readonly layer: readonly (UnitView | LayerView)[];
  readonly data?: { readonly values: readonly Row[] };
  readonly encoding?: Encoding;
  readonly width?: number;
  readonly height?: number;
  readonly title?: Title;
  readonly resolve?: Resolve;
  readonly projection?: { readonly type: string };
}

export interface ConcatView {
  readonly vconcat?: readonly View[];
  readonly hconcat?: readonly View[];
  readonly concat?: readonly View[];
  readonly columns?: number;
  readonly spacing?: number;
  readonly resolve?: Resolve;
  readonly bounds?: "full" | "flush";
  readonly title?: Title;
}

export type View = UnitView | LayerView | ConcatView;

export interface Title {
  readonly text: string | readonly string[];
  readonly subtitle?: string | readonly string[];
  readonly [property: string]: Cell | readonly string[] | undefined;
}

export interface Resolve {
  readonly scale?: Readonly<Record<string, "shared" | "independent">>;
  readonly axis?: Readonly<Record<string, "shared" | "independent">>;
}

/** A polygon or multipolygon with numbers and texts beside it (RFC 7946). */
export interface GeoFeature {
  readonly type: "Feature";
  readonly geometry: { readonly type: string; readonly coordinates: unknown };
  readonly properties: Row;
}

/** A whole chart: one view with its schema, description, colours and sizes. */
export type ChartSpec = View & {
  readonly $schema: string;
  readonly description: string;
  readonly background: string;
  readonly padding: number;
  readonly config: { readonly [name: string]: unknown };
};

export const vegaLiteSchema = "https://vega.github.io/schema/vega-lite/v6.json";
