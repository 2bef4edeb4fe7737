import { readRecords } from "./readRecords.mjs";

/** Codes of issues about a record that is rightly no plot. */
const noPlot = new Set(["title-line", "repeated-header", "unit-row"]);

/** Words that a slip of the program puts into a sentence; a file may hold them too. */
const slips = /undefined|NaN|\[object Object\]/;

/**
 * What is wrong with the reading of a file: null, or a sentence. The records of the text are counted by `readRecords`; every one of
 * them must be the header, a blank line that was counted, a line named as title, repeated header or units, or a row of a plot.
 *
 * @param {string} text - as decoded
 * @param {{ trial: object | null, issues: readonly object[] }} reading - read with a limit of issues that is never reached
 * @param {string} delimiter - the one the reader used
 */
export function checkReading(text, { trial, issues }, delimiter) {
  const ownWords = slips.test(text);
  for (const issue of issues) {
    if (issue.message.length <= 10 || (!ownWords && slips.test(issue.message))) return `message: ${issue.message}`;
    if (issue.received !== null && issue.received.length > 60) return "received is longer than 60 characters";
  }
  const bad = firstNotFinite([trial, issues], "reading");
  if (bad !== null) return `${bad} is not finite`;
  if (trial === null) return issues.some(({ severity }) => severity === "error") ? null : "no trial and no error";
  return silentRows(text, trial, issues, delimiter) ?? brokenPlot(trial);
}

function silentRows(text, trial, issues, delimiter) {
  const plain = text.charCodeAt(0) === 0xfeff ? text.slice(1) : text;
  const named = /^"?sep=([,;|\t])"?(?=[\r\n])/i.exec(plain);
  const ignored = issues.find(({ code }) => code === "quotes-ignored");
  const records = readRecords(
    named === null ? plain : plain.slice(named[0].length),
    delimiter,
    ignored?.row ?? Infinity,
  );
  const excused = new Set(issues.filter(({ code }) => noPlot.has(code)).map(({ row }) => row));
  const titles = new Set(issues.filter(({ code }) => code === "title-line").map(({ row }) => row));
  const filled = records.filter(({ blank }) => !blank).map(({ line }) => line);
  const header = filled.find((line) => !titles.has(line));
  const wanted = filled.filter((line) => line !== header && !excused.has(line));
  const rows = trial.plots.flatMap((plot) => plot.rows).sort((a, b) => a - b);
  if (wanted.length !== rows.length || wanted.some((line, i) => line !== rows[i]))
    return `silent rows: records on lines ${wanted.join(" ")} but plots have ${rows.join(" ")}`;
  // Blank lines above the header are counted by no issue.
  const blank = records.filter((record) => record.blank && record.line > header).length;
  const counted = issues.find(({ code }) => code === "blank-rows")?.count ?? 0;
  return blank === counted ? null : `silent rows: ${blank} blank lines but ${counted} were counted`;
}

function brokenPlot({ plots, hybrids, environments }) {
  for (const plot of plots) {
    if (plot.rows[0] !== plot.row) return `plot of line ${plot.row} does not begin with it`;
    if (!(plot.weight > 0)) return `plot of line ${plot.row} has weight ${plot.weight}`;
    if (plot.excluded === "") return `plot of line ${plot.row} is left out for no reason`;
    if (plot.excluded === null && !(hybrids.includes(plot.hybrid) && environments.includes(plot.environment)))
      return `plot of line ${plot.row} has a hybrid or an environment that the trial does not list`;
    for (const { lodged, examined } of plot.lodging)
      if (!(lodged >= 0 && lodged <= (examined ?? 1)))
        return `plot of line ${plot.row} has ${lodged} of ${examined} lodged`;
  }
  return null;
}

/** Path of the first number that JSON cannot carry, or null. */
export function firstNotFinite(value, path) {
  if (typeof value === "number") return Number.isFinite(value) ? null : path;
  if (typeof value !== "object" || value === null) return null;
  for (const name of Object.keys(value)) {
    const found = firstNotFinite(value[name], `${path}.${name}`);
    if (found !== null) return found;
  }
  return null;
}
