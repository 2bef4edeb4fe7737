/** A date as read: `text` is ISO (2031-10-05) when the day is certain, else what was written. */
export interface DateReading {
  readonly text: string;
  /** Both orders of day and month are possible, as in 5/10/2031. */
  readonly ambiguous: boolean;
}

const months = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

/**
 * Brings a date to ISO order, so that dates sort as text.
 *
 * 2031-10-05, 2031/10/5, 5.10.2031 (points: day first), 5 Oct 2031 and Oct 5, 2031 are certain, and so are 10/25/2031 and
 * 25/10/2031. 5/10/2031 is not: it stays as written. Any other text ("harvest") stays too.
 */
export function dateText(cell: string): DateReading {
  const text = cell.replace(/\s+/g, " ").trim().slice(0, 40);
  const yearFirst = /^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]\d{1,2}:\d{2}.*)?$/.exec(text);
  if (yearFirst !== null) return certain(text, yearFirst[1], yearFirst[2], yearFirst[3]);
  const dotted = /^(\d{1,2})\.(\d{1,2})\.(\d{4})$/.exec(text);
  if (dotted !== null) return certain(text, dotted[3], dotted[2], dotted[1]);
  const dayNamed = /^(\d{1,2})\.?[- ]([a-z]{3})[a-z]*\.?,?[- ](\d{4})$/i.exec(text);
  if (dayNamed !== null) return certain(text, dayNamed[3], monthOf(dayNamed[2]), dayNamed[1]);
  const monthNamed = /^([a-z]{3})[a-z]*\.?[- ](\d{1,2}),?[- ](\d{4})$/i.exec(text);
  if (monthNamed !== null) return certain(text, monthNamed[3], monthOf(monthNamed[1]), monthNamed[2]);
  const slashed = /^(\d{1,2})[/-](\d{1,2})[/-](\d{4})$/.exec(text);
  if (slashed === null) return { text, ambiguous: false };
  const [, first, second, year] = slashed;
  if (Number(first) > 12) return certain(text, year, second, first);
  if (Number(second) > 12 || first === second) return certain(text, year, first, second);
  return { text, ambiguous: true };
}

function certain(text: string, year?: string, month?: string, day?: string): DateReading {
  const [m, d] = [Number(month), Number(day)];
  if (!(m >= 1 && m <= 12 && d >= 1 && d <= 31)) return { text, ambiguous: false };
  return { text: `${year}-${String(m).padStart(2, "0")}-${String(d).padStart(2, "0")}`, ambiguous: false };
}

function monthOf(name = ""): string {
  return String(months.indexOf(name.toLowerCase()) + 1);
}
