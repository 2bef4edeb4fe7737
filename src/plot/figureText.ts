import { log10 } from "../core/elementary.ts";

/** A number with a fixed count of decimals and a comma between thousands. */
export function figure(value: number, decimals: number): string {
  const text = Math.abs(value).toFixed(decimals);
  const [whole = "0", fraction] = text.split(".");
  const grouped = whole.replace(/\B(?=(\d{3})+$)/g, ",");
  return `${value < 0 && Number(text) !== 0 ? "-" : ""}${grouped}${fraction === undefined ? "" : `.${fraction}`}`;
}

/** A number with so many significant digits, without exponent. */
export function rounded(value: number, digits: number): string {
  if (value === 0) return "0";
  const decimals = Math.min(Math.max(digits - 1 - Math.floor(log10(Math.abs(value))), 0), 12);
  const text = figure(Number(value.toPrecision(digits)), decimals);
  return text.includes(".") ? text.replace(/0+$/, "").replace(/\.$/, "") : text;
}

/** Money with its sign before it ("$3.20") or its word behind ("3.20 EUR"). */
export function moneyText(value: number, currency: string): string {
  const amount = figure(value, Math.abs(value) >= 1000 ? 0 : 2);
  if (currency === "") return amount;
  if (/^\p{L}/u.test(currency)) return `${amount} ${currency}`;
  return amount.startsWith("-") ? `-${currency}${amount.slice(1)}` : currency + amount;
}

/** The coordinate as a picture needs it: seven digits, so that specs stay small. */
export function short(value: number): number {
  return Number(value.toPrecision(7));
}

/** A name from a file on one line, without marks that turn the writing direction; a long one is cut. */
export function nameText(name: string, longest = 40): string {
  const clean = name
    .replace(/\s+/gu, " ")
    .replace(/[\p{Cc}\u202a-\u202e\u2066-\u2069]/gu, "\ufffd")
    .trim();
  const letters = [...clean];
  return letters.length <= longest ? clean : `${letters.slice(0, longest - 1).join("")}…`;
}
