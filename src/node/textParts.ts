import { check } from "../core/errors.ts";
import type { Issue } from "../core/issue.ts";
import { encodingGuessed } from "./readTrialFile.ts";

/** Bytes of one line at most: 256 MB. */
const longestLine = 268_435_456;

/** Text decoded part by part. */
export interface TextParts extends AsyncIterable<string> {
  /** What was found about the encoding, once all was read. */
  readonly issues: readonly Issue[];
}

/**
 * Decodes a stream: UTF-8, UTF-16 with its byte order mark; from the first part that is not UTF-8 on, Windows-1252. Parts end at line
 * ends, so that a letter of several bytes is never cut.
 *
 * @throws AnalysisError `unreadable-source` when a line is longer than 256 MB
 */
export function textParts(bytes: AsyncIterable<Uint8Array | string>): TextParts {
  const issues: Issue[] = [];
  return {
    issues,
    async *[Symbol.asyncIterator]() {
      // Pieces without a line end yet: joined once, so that one long line costs no more than many short ones.
      let kept: Uint8Array[] = [];
      let length = 0;
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
        kept.push(piece);
        length += piece.length;
        if (first && length < 2) continue;
        if (first) {
          const start = joined(kept).subarray(0, 2).join(",");
          if (start === "255,254") wide = new TextDecoder("utf-16le");
          if (start === "254,255") wide = new TextDecoder("utf-16be");
        }
        if (wide !== null) {
          yield wide.decode(first ? joined(kept) : piece, { stream: true });
          first = false;
          kept = [];
          length = 0;
          continue;
        }
        first = false;
        const end = Math.max(piece.lastIndexOf(10), piece.lastIndexOf(13)) + 1;
        if (end > 0) {
          const part = joined(kept);
          const cut = part.length - piece.length + end;
          yield decode(part.subarray(0, cut));
          kept = [part.subarray(cut)];
          length = part.length - cut;
        }
        check(
          length <= longestLine,
          "unreadable-source",
          `a line is longer than ${longestLine / 1_048_576} MB: this is not a table, nor JSON in lines`,
        );
      }
      if (wide !== null) yield wide.decode();
      else if (length > 0) yield decode(joined(kept));
    },
  };
}

function joined(parts: readonly Uint8Array[]): Uint8Array {
  return parts.length === 1 ? (parts[0] as Uint8Array) : Buffer.concat(parts);
}
