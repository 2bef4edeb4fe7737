import type { Issue } from "../core/issue.ts";
import { encodingGuessed } from "./readTrialFile.ts";

/** Text decoded part by part. */
export interface TextParts extends AsyncIterable<string> {
  /** What was found about the encoding, once all was read. */
  readonly issues: readonly Issue[];
}

/**
 * Decodes a stream: UTF-8, UTF-16 with its byte order mark; from the first part that is not UTF-8 on, Windows-1252. Parts end at line
 * ends, so that a letter of several bytes is never cut.
 */
export function textParts(bytes: AsyncIterable<Uint8Array | string>): TextParts {
  const issues: Issue[] = [];
  return {
    issues,
    async *[Symbol.asyncIterator]() {
      let kept: Uint8Array = new Uint8Array(0);
      let wide: InstanceType<typeof TextDecoder> | null = null;
      let first = true;
      let guessed = false;
      const decode = (part: Uint8Array): string => {
        if (!guessed) {
          try {
            return new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(part);
          } catch {
            guessed = true;
            issues.push(encodingGuessed);
          }
        }
        return new TextDecoder("windows-1252").decode(part);
      };
      for await (const given of bytes) {
        const piece: Uint8Array = typeof given === "string" ? new TextEncoder().encode(given) : given;
        const part = kept.length === 0 ? piece : Buffer.concat([kept, piece]);
        kept = new Uint8Array(0);
        if (first && part.length < 2) {
          kept = part;
          continue;
        }
        if (first) {
          const start = part.subarray(0, 2).join(",");
          if (start === "255,254") wide = new TextDecoder("utf-16le");
          if (start === "254,255") wide = new TextDecoder("utf-16be");
          first = false;
        }
        if (wide !== null) {
          yield wide.decode(part, { stream: true });
          continue;
        }
        const end = Math.max(part.lastIndexOf(10), part.lastIndexOf(13)) + 1;
        if (end > 0) yield decode(part.subarray(0, end));
        kept = part.subarray(end);
      }
      if (wide !== null) yield wide.decode();
      else if (kept.length > 0) yield decode(kept);
    },
  };
}
