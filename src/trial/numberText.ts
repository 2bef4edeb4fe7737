/**
 * A number for a sentence: so many significant digits, commas between thousands, the same on every machine.
 *
 * @param digits - significant digits kept; default: all
 * @example
 * numberText(34567.891, 4); // => "34,570"
 */
export function numberText(value: number, digits?: number): string {
  const text = String(digits === undefined ? value : Number(value.toPrecision(digits)));
  const [whole = "", rest] = text.split(".");
  // 1e21 and beyond are written with an exponent; those stay as they are.
  if (!/^-?\d+$/.test(whole)) return text;
  const grouped = whole.replace(/\B(?=(?:\d{3})+$)/g, ",");
  return rest === undefined ? grouped : `${grouped}.${rest}`;
}
