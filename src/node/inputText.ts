import { readFile } from "node:fs/promises";
import { AnalysisError } from "../core/errors.ts";

/**
 * Text of a field or zone file: UTF-8, UTF-16 with its byte order mark, and Windows-1252 when the bytes are not UTF-8.
 *
 * @throws AnalysisError `unreadable-source` when it cannot be read
 */
export async function inputText(path: string): Promise<string> {
  try {
    const bytes = await readFile(path);
    const start = bytes.subarray(0, 2).join(",");
    if (start === "255,254") return new TextDecoder("utf-16le").decode(bytes);
    if (start === "254,255") return new TextDecoder("utf-16be").decode(bytes);
    try {
      return new TextDecoder("utf-8", { fatal: true }).decode(bytes);
    } catch {
      return new TextDecoder("windows-1252").decode(bytes);
    }
  } catch (error) {
    const detail = error instanceof Error ? error.message : String(error);
    throw new AnalysisError("unreadable-source", `"${path}" cannot be read: ${detail}`);
  }
}
