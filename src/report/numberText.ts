import { log10 } from "../core/elementary.ts";

/** A number with a fixed count of decimals and a comma between thousands; "-0.0" is written "0.0". */
export function fixed(value: number, decimals: number): string {
  const text = Math.abs(value).toFixed(decimals);
  const [whole = "0", fraction] = text.split(".");
  const grouped = whole.replace(/\B(?=(\d{3})+$)/g, ",");
  const negative = value < 0 && Number(text) !== 0;
  return `${negative ? "-" : ""}${grouped}${fraction === undefined ? "" : `.${fraction}`}`;
}

/** A number of any size with so many significant digits, without exponent and without trailing zeros after the point. */
export function significant(value: number, digits: number): string {
  if (value === 0) return "0";
  const decimals = Math.min(Math.max(digits - 1 - Math.floor(log10(Math.abs(value))), 0), 12);
  return fixed(Number(value.toPrecision(digits)), decimals)
    .replace(/(\.\d*?)0+$/, "$1")
    .replace(/\.$/, "");
}

/** A share as a percentage that never claims certainty: "more than 99 %", "63 %", "less than 1 %". */
export function percentage(share: number): string {
  if (share > 0.99) return "more than 99 %";
  return share < 0.01 ? "less than 1 %" : `${Math.round(100 * share)} %`;
}

/** A p-value: "p < 0.001" or "p = 0.24". */
export function pValue(p: number): string {
  if (p < 0.001) return "p < 0.001";
  return `p = ${p < 0.1 ? significant(p, 1).padEnd(4, "0") : p.toFixed(2)}`;
}

/** "1 plot", "2 plots", "1,204 plots". */
export function countOf(count: number, one: string, many: string = `${one}s`): string {
  return `${fixed(count, 0)} ${count === 1 ? one : many}`;
}

/** "a", "a and b", "a, b and c". */
export function listText(items: readonly string[]): string {
  if (items.length < 2) return items[0] ?? "";
  return `${items.slice(0, -1).join(", ")} and ${items[items.length - 1]}`;
}
