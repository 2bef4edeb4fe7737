import type { Issue } from "../core/issue.ts";
import { parseJson } from "../core/parseJson.ts";
import { issueLog } from "../trial/issueLog.ts";
import { textParts } from "./textParts.ts";

/** Values of a stream of JSON lines; `issues` once it was read. */
export interface JsonLines extends AsyncIterable<Readonly<Record<string, unknown>>> {
  issues(): readonly Issue[];
}

/** Reads one JSON object a line. Blank lines are skipped; a line that is no object is reported as an error and left out. */
export function jsonLines(bytes: AsyncIterable<Uint8Array | string>): JsonLines {
  const log = issueLog("Line", 50);
  let line = 0;
  const parse = (text: string): Readonly<Record<string, unknown>> | null => {
    line += 1;
    const plain = line === 1 && text.startsWith("\ufeff") ? text.slice(1) : text;
    if (plain.trim() === "") return null;
    const parsed = parseJson(plain);
    const value = parsed.kind === "value" ? parsed.value : null;
    if (typeof value === "object" && value !== null && !Array.isArray(value))
      return value as Readonly<Record<string, unknown>>;
    log.add({
      severity: "error",
      code: "not-a-json-object",
      row: line,
      received: plain,
      rule: "every line must be one JSON object: a plot or a group",
      remedy: "write it again; the line was left out",
    });
    return null;
  };
  return {
    async *[Symbol.asyncIterator]() {
      for await (const text of lines(bytes)) {
        const value = parse(text);
        if (value !== null) yield value;
      }
    },
    issues: () => log.list(),
  };
}

/** Lines of a stream, without their ends. */
export async function* lines(bytes: AsyncIterable<Uint8Array | string>): AsyncGenerator<string> {
  let kept = "";
  for await (const text of textParts(bytes)) {
    const rows = (kept + text).split("\n");
    kept = rows.pop() ?? "";
    for (const row of rows) yield row.endsWith("\r") ? row.slice(0, -1) : row;
  }
  if (kept !== "") yield kept;
}
