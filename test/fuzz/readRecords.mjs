/** White space of Unicode, as ECMAScript lists it. */
const isBlank = (character) => character.trim() === "";

/**
 * Records of a delimited text, found by a small automaton that shares no code with the reader: RFC 4180 with blanks allowed around
 * quotes. A record that breaks the rules of quotes is its first line, with quotes as ordinary characters.
 *
 * @param {string} text - without byte order mark
 * @param {string} delimiter
 * @param {number} plainFrom - quotes are ordinary characters on all lines after this one
 * @returns {{ line: number, blank: boolean }[]} the line each record begins on, and whether all its cells are blank
 */
export function readRecords(text, delimiter, plainFrom) {
  const found = [];
  let at = 0;
  let line = 1;
  while (at < text.length) {
    const record = (line > plainFrom ? null : quotedRecord(text, at, delimiter)) ?? plainRecord(text, at, delimiter);
    found.push({ line, blank: record.blank });
    for (let i = at; i < record.end; i++) if (isEnd(text, i)) line += 1;
    at = record.end;
  }
  return found;
}

/** Is this character the last one of a line end? */
function isEnd(text, i) {
  return text[i] === "\n" || (text[i] === "\r" && text[i + 1] !== "\n");
}

function pastLineEnd(text, at) {
  return text[at] === "\r" && text[at + 1] === "\n" ? at + 2 : at + 1;
}

const isLineEnd = (character) => character === "\n" || character === "\r";

function plainRecord(text, at, delimiter) {
  let end = at;
  while (end < text.length && !isLineEnd(text[end])) end += 1;
  const blank = text
    .slice(at, end)
    .split(delimiter)
    .every((cell) => cell.trim() === "");
  return { end: Math.min(text.length, pastLineEnd(text, end)), blank };
}

/** Null when the quotes of the record at `at` break the rules. */
function quotedRecord(text, at, delimiter) {
  let blank = true;
  let afterEmpty = false;
  for (;;) {
    while (at < text.length && text[at] !== delimiter && !isLineEnd(text[at]) && isBlank(text[at])) at += 1;
    if (text[at] === '"') {
      const from = ++at;
      for (;;) {
        if (at >= text.length) return null;
        if (text[at] !== '"') at += 1;
        else if (text[at + 1] === '"') at += 2;
        else break;
      }
      if (text.slice(from, at).trim() !== "") blank = false;
      const empty = at === from;
      // Empty quoted texts side by side are one empty cell; anything else after one is a stray quote.
      if (afterEmpty && !empty) return null;
      afterEmpty = false;
      at += 1;
      // After the closing quote of a text only ASCII blanks are blanks (so it is in csv-parse 7.0); others make the quote a stray one.
      const blankAfter = empty ? isBlank : (character) => " \t\f\v".includes(character);
      while (at < text.length && text[at] !== delimiter && !isLineEnd(text[at]) && blankAfter(text[at])) at += 1;
      if (empty && text[at] === '"') {
        afterEmpty = true;
        continue;
      }
      if (at < text.length && text[at] !== delimiter && !isLineEnd(text[at])) return null;
    } else {
      const from = at;
      while (at < text.length && text[at] !== delimiter && !isLineEnd(text[at])) {
        if (text[at] === '"') return null;
        at += 1;
      }
      if (text.slice(from, at).trim() !== "") blank = false;
    }
    if (at >= text.length) return { end: at, blank };
    if (isLineEnd(text[at])) return { end: pastLineEnd(text, at), blank };
    at += 1;
  }
}
