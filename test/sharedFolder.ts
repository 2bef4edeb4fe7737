import { existsSync, readFileSync } from "node:fs";

/** Folder with data that may be used but not copied: a sibling of the repository, or STANDCURVE_SHARED. */
const folder = process.env.STANDCURVE_SHARED ?? new URL("../../shared", import.meta.url).pathname;

export const sharedPresent: boolean = existsSync(`${folder}/data/csv`);

/** A JSON file of the shared data folder. */
export function sharedJson<T>(path: string): T {
  return JSON.parse(readFileSync(`${folder}/${path}`, "utf8")) as T;
}

/** A CSV file of the shared data folder, by columns; cells that read as numbers are numbers. */
export function sharedCsv(path: string): Record<string, (string | number)[]> {
  const [head, ...rows] = readFileSync(`${folder}/${path}`, "utf8").trim().split(/\r?\n/);
  const cells = rows.map((row) => row.split(","));
  return Object.fromEntries(
    head
      .split(",")
      .map((name, j) => [
        name,
        cells.map((row) => (row[j] !== "" && !Number.isNaN(Number(row[j])) ? Number(row[j]) : row[j])),
      ]),
  );
}
