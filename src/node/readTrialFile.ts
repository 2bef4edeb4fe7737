import { readFile, stat } from "node:fs/promises";
import { AnalysisError, check } from "../core/errors.ts";
import { readTrial, type TrialReading } from "../trial/readTrial.ts";
import type { ReadSchema } from "../trial/schema.ts";

const LARGEST = 512 * 1024 * 1024;

/**
 * Reads a trial from a CSV file. UTF-8, UTF-16 with its byte order mark and, when the bytes are not UTF-8, Windows-1252.
 *
 * @throws AnalysisError `unreadable-source` when there is no such file, it is a folder, may not be read or is not a table
 * @throws AnalysisError as `readTrial`
 */
export async function readTrialFile(path: string, schema: ReadSchema = {}): Promise<TrialReading> {
  try {
    const found = await stat(path);
    check(!found.isDirectory(), "unreadable-source", `"${path}" is a folder; name a CSV file`);
    check(found.size <= LARGEST, "unreadable-source", `"${path}" is larger than 512 MB; split it`);
    return readTrial(decodeText(await readFile(path)), schema);
  } catch (error) {
    throw error instanceof AnalysisError ? error : unreadable(path, error);
  }
}

/** Text of a table's bytes. */
export function decodeText(bytes: Uint8Array): string {
  const start = bytes.subarray(0, 2).join(",");
  if (start === "255,254") return new TextDecoder("utf-16le").decode(bytes);
  if (start === "254,255") return new TextDecoder("utf-16be").decode(bytes);
  try {
    return new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    return new TextDecoder("windows-1252").decode(bytes);
  }
}

const causes: Readonly<Record<string, string>> = {
  ENOENT: "there is no file",
  EACCES: "there is no permission to read",
  EPERM: "there is no permission to read",
  ENOTDIR: "there is no file",
  ENAMETOOLONG: "there is no file",
};

function unreadable(path: string, error: unknown): AnalysisError {
  const code = error instanceof Error && "code" in error ? String(error.code) : "";
  const detail = error instanceof Error ? error.message : String(error);
  const cause = causes[code];
  return new AnalysisError(
    "unreadable-source",
    cause === undefined ? `"${path}" cannot be read: ${detail}` : `${cause} "${path}"`,
  );
}
