import { readdirSync, readFileSync } from "node:fs";

const folder = new URL("corpus/", import.meta.url);
const names = readdirSync(folder).sort();
const read = (name) => readFileSync(new URL(name, folder));

const isTable = (name) => name.endsWith(".csv") && !name.startsWith("zones");

/** Tables to start from: small trials of every shape, and files that a reader once stumbled over (failed-*). */
export const tables = names.filter(isTable).map((name) => read(name).toString("utf8"));

/** The same as bytes, to be read as they stand. */
export const tableFiles = names.filter(isTable).map((name) => ({ name, bytes: read(name) }));

/** Tables of zones. */
export const zoneTables = [read("zones.csv").toString("utf8")];

/** A field, and zones as GeoJSON. */
export const jsonTexts = { field: read("field.json").toString("utf8"), zones: read("zones.geojson").toString("utf8") };
