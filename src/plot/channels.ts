import type { ChartTheme } from "./chartTheme.ts";
import { short } from "./figureText.ts";
import { spreadLabels } from "./spreadLabels.ts";
import type { Axis, Channel, Row, UnitView } from "./vegaLite.ts";

/** A quantitative channel with its domain stated: in layered views an unstated one would grow to include zero. */
export function number(field: string, domain: readonly [number, number], axis?: Axis | null): Channel {
  return {
    field,
    type: "quantitative",
    scale: { domain, zero: false, nice: false },
    ...(axis === undefined ? {} : { axis }),
  };
}

/** A channel whose values are colours, shapes or dashes already. */
export function literal(field: string): Channel {
  return { field, type: "nominal", scale: null, legend: null };
}

export const words: Channel = { field: "text", type: "nominal" };

/** The range of some values with a little room on both sides. */
export function padded(values: readonly number[], share = 0.05): readonly [number, number] {
  const least = values.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY);
  const most = values.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY);
  const room = (most - least || Math.abs(most) || 1) * share;
  return [short(least - room), short(most + room)];
}

/** Labels at the right end of lines, moved apart where they would cover each other, with a thin line to where they belong. */
export function endLabels(
  labels: readonly { readonly y: number; readonly text: string; readonly color?: string }[],
  theme: ChartTheme,
  xDomain: readonly [number, number],
  yDomain: readonly [number, number],
  height: number,
  from: number = xDomain[1],
): UnitView[] {
  const perPixel = (yDomain[1] - yDomain[0]) / height;
  const at = spreadLabels(
    labels.map(({ y }) => y),
    theme.font * 1.3 * perPixel,
    [yDomain[0] - theme.font * perPixel, yDomain[1] + theme.font * perPixel],
  );
  const values: Row[] = labels.map(({ y, text, color }, i) => ({
    from,
    y: short(Math.min(Math.max(y, yDomain[0]), yDomain[1])),
    at: short(at[i]),
    end: xDomain[1],
    text,
    color: color ?? theme.muted,
  }));
  return [
    {
      data: { values },
      mark: { type: "rule", strokeWidth: 1, opacity: 0.7 },
      encoding: {
        x: number("from", xDomain),
        x2: { field: "end" },
        y: number("y", yDomain),
        y2: { field: "at" },
        color: literal("color"),
      },
    },
    {
      data: { values },
      mark: { type: "text", align: "left", baseline: "middle", dx: 4, color: theme.ink },
      encoding: { x: number("end", xDomain), y: number("at", yDomain), text: words },
    },
  ];
}
