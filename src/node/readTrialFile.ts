import { readFile, stat } from "node:fs/promises";
import { AnalysisError, check } from "../core/errors.ts";
import type { Issue } from "../core/issue.ts";
import { readTrial, type TrialReading } from "../trial/readTrial.ts";
import type { ReadSchema } from "../trial/schema.ts";

const LARGEST = 512 * 1024 * 1024;

/**
 * Reads a trial from a CSV file. UTF-8, UTF-16 with its byte order mark and, when the bytes are not UTF-8, Windows-1252.
 *
 * @throws AnalysisError `unreadable-source` when there is no such file, it is a folder, may not be read or is not a table
 * @throws AnalysisError as `readTrial`
 * @example
 * const { trial } = await readTrialFile("data-demo/strips.csv");
 * trial?.plots.length; // => 40
 */
export async function readTrialFile(path: string, schema: ReadSchema = {}): Promise<TrialReading> {
  try {
    const found = await stat(path);
    check(!found.isDirectory(), "unreadable-source", `"${path}" is a folder; name a CSV file`);
    check(found.size <= LARGEST, "unreadable-source", `"${path}" is larger than 512 MB; split it`);
    return readTrialBytes(await readFile(path), schema);
  } catch (error) {
    throw error instanceof AnalysisError ? error : unreadable(path, error);
  }
}

/** Reads a trial from the bytes of a CSV file; a guessed encoding is noted among the issues. */
export function readTrialBytes(bytes: Uint8Array, schema: ReadSchema): TrialReading {
  const { text, guessed } = decode(bytes);
  const reading = readTrial(text, schema);
  return guessed ? { ...reading, issues: [encodingGuessed, ...reading.issues] } : reading;
}

function decode(bytes: Uint8Array): { readonly text: string; readonly guessed: boolean } {
  const start = bytes.subarray(0, 2).join(",");
  if (start === "255,254") return { text: new TextDecoder("utf-16le").decode(bytes), guessed: false };
  if (start === "254,255") return { text: new TextDecoder("utf-16be").decode(bytes), guessed: false };
  try {
    return { text: new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(bytes), guessed: false };
  } catch {
    return { text: new TextDecoder("windows-1252").decode(bytes), guessed: true };
  }
}

/** The note about a file that is not UTF-8. */
export const encodingGuessed: Issue = {
  severity: "note",
  code: "encoding-guessed",
  row: null,
  column: null,
  received: null,
  rule: "the file is not UTF-8, so it was read as Windows-1252, as older spreadsheets write it",
  remedy: "look at names with accents; if they are wrong, export the file as UTF-8",
  message:
    "The file is not UTF-8, so it was read as Windows-1252, as older spreadsheets write it. Look at names with accents; if they are wrong, export the file as UTF-8.",
};

const causes: Readonly<Record<string, string>> = {
  ENOENT: "there is no file",
  EACCES: "there is no permission to read",
  EPERM: "there is no permission to read",
  ENOTDIR: "there is no file",
  ENAMETOOLONG: "there is no file",
};

/** The error for a file that cannot be opened. */
export function unreadable(path: string, error: unknown): AnalysisError {
  const code = error instanceof Error && "code" in error ? String(error.code) : "";
  const detail = error instanceof Error ? error.message : String(error);
  const cause = causes[code];
  return new AnalysisError(
    "unreadable-source",
    cause === undefined ? `"${path}" cannot be read: ${detail}` : `${cause} "${path}"`,
  );
}
