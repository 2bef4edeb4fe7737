import { pow } from "../core/elementary.ts";

type Rgb = readonly [number, number, number];

/** A mix of the paper's colour and a strong one: strength 0 is paper, 1 the strong colour. */
export function tint(strong: Rgb, strength: number, paper: string): string {
  const base = rgb(paper);
  const share = Math.min(Math.max(strength, 0), 1);
  return `#${base
    .map((value, i) =>
      Math.round(value + (strong[i] - value) * share)
        .toString(16)
        .padStart(2, "0"),
    )
    .join("")}`;
}

/** Black or white, whichever stands out more on a colour (contrast ratio of WCAG 2.2). */
export function inkOn(color: string): "#000000" | "#ffffff" {
  const light = luminance(rgb(color));
  return (light + 0.05) / 0.05 >= 1.05 / (light + 0.05) ? "#000000" : "#ffffff";
}

function rgb(color: string): Rgb {
  return [1, 3, 5].map((at) => Number.parseInt(color.slice(at, at + 2), 16)) as unknown as Rgb;
}

function luminance(color: Rgb): number {
  const [r, g, b] = color.map((value) => {
    const share = value / 255;
    return share <= 0.04045 ? share / 12.92 : pow((share + 0.055) / 1.055, 2.4);
  });
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}
