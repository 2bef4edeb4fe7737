import { existsSync, readFileSync } from "node:fs";

const repository = new URL("../..", import.meta.url).pathname;
const shared = process.env["STANDCURVE_SHARED"] ?? `${repository}../shared`;

/** True when the wider reference sets lie beside the repository. */
export const hasShared = existsSync(`${shared}/data/reference/mixed_share.json`);

export type Row = Readonly<Record<string, string>>;

function rows(path: string): Row[] {
  const [head, ...lines] = readFileSync(path, "utf8").trim().split("\n");
  const names = head.split(",");
  return lines.map((line) =>
    Object.fromEntries(line.split(",").map((cell, i) => [names[i], cell.replaceAll('"', "")])),
  );
}

/** A data file of the wider reference sets, rows with a value in `needs`. */
export function sharedRows(file: string, needs: string): Row[] {
  return rows(`${shared}/data/csv/${file}`).filter((row) => row[needs] !== "" && row[needs] !== "NA");
}

/** A data file of a reference set, rows with a value in `needs`: from test/oracle where it may stand, else beside the repository. */
export function referenceRows(file: string, needs: string): Row[] {
  const path = [`${repository}test/oracle/mixed/${file}`, `${repository}test/oracle/csv/${file}`].find((p) =>
    existsSync(p),
  );
  return (path === undefined ? rows(`${shared}/data/csv/${file}`) : rows(path)).filter(
    (row) => row[needs] !== "" && row[needs] !== "NA",
  );
}

export function sharedJson<T>(path: string): T {
  return JSON.parse(readFileSync(`${shared}/data/${path}`, "utf8")) as T;
}

/** A data file kept with the tests. */
export function oracleRows(file: string): Row[] {
  return rows(`${repository}test/oracle/mixed/${file}`);
}

export function oracleJson<T>(file: string): T {
  return JSON.parse(readFileSync(`${repository}test/oracle/mixed/${file}`, "utf8")) as T;
}

/** Treatment-contrast columns of a factor: all levels but the first in alphabetical order, as R codes them. */
export function contrasts(values: readonly string[]): number[][] {
  const numeric = values.every((v) => v !== "" && Number.isFinite(Number(v)));
  const levels = [...new Set(values)].sort(numeric ? (a, b) => Number(a) - Number(b) : undefined);
  return levels.slice(1).map((level) => values.map((v) => (v === level ? 1 : 0)));
}

export function times(a: readonly number[], b: readonly number[]): number[] {
  return a.map((v, i) => v * b[i]);
}
