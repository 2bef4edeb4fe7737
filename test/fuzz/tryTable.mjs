import { checkReading } from "./checkReading.mjs";

const settings = { issueLimit: 1_000_000 };

/**
 * Reads a file as the command line does and judges the reading.
 *
 * @param {object} library - `readTrialBytes`, `detectDelimiter`, `checkTrial`
 * @param {Uint8Array} bytes
 * @returns {null | { kind: "crash" | "silent" | "wrong", text: string }} null when all is well
 */
export function tryTable(library, bytes) {
  let reading;
  try {
    reading = library.readTrialBytes(bytes, settings);
    if (reading.trial !== null) library.checkTrial(reading.trial);
  } catch (error) {
    if (error?.name === "AnalysisError" && error.code === "unreadable-source") return null;
    return { kind: "crash", text: String(error?.stack ?? error) };
  }
  const text = decode(bytes);
  const plain = text.charCodeAt(0) === 0xfeff ? text.slice(1) : text;
  const named = /^"?sep=([,;|\t])"?(?=[\r\n])/i.exec(plain);
  const delimiter = named?.[1] ?? library.detectDelimiter(plain);
  const wrong = checkReading(text, reading, delimiter);
  if (wrong === null) return null;
  return { kind: wrong.startsWith("silent") ? "silent" : "wrong", text: wrong };
}

/** UTF-8; UTF-16 by its byte order mark; else Windows-1252. */
function decode(bytes) {
  if (bytes[0] === 0xff && bytes[1] === 0xfe) return new TextDecoder("utf-16le").decode(bytes);
  if (bytes[0] === 0xfe && bytes[1] === 0xff) return new TextDecoder("utf-16be").decode(bytes);
  try {
    return new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    return new TextDecoder("windows-1252").decode(bytes);
  }
}
