import { readFile } from "node:fs/promises";
import { AnalysisError } from "../core/errors.ts";
import { decodeText } from "./readTrialFile.ts";

/**
 * Text of a field or zone file.
 *
 * @throws AnalysisError `unreadable-source` when it cannot be read
 */
export async function inputText(path: string): Promise<string> {
  try {
    return decodeText(await readFile(path));
  } catch (error) {
    const detail = error instanceof Error ? error.message : String(error);
    throw new AnalysisError("unreadable-source", `"${path}" cannot be read: ${detail}`);
  }
}
