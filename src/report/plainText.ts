/**
 * A name or message from a file, safe on one line of a terminal: runs of white space become a blank; control characters and
 * marks that turn the writing direction become visible.
 */
export function plainText(text: string): string {
  return text
    .replace(/\s+/gu, " ")
    .replace(/[\p{Cc}\u202a-\u202e\u2066-\u2069]/gu, "�")
    .trim();
}

/** Columns a text takes: combining marks none, wide East Asian characters two. */
export function textWidth(text: string): number {
  let width = 0;
  for (const character of text) {
    if (/\p{M}|\u200b|\u200d/u.test(character)) continue;
    width += /[\u1100-\u115f\u2e80-\ua4cf\uac00-\ud7a3\uf900-\ufaff\ufe30-\ufe6f\uff00-\uff60\uffe0-\uffe6]/u.test(
      character,
    )
      ? 2
      : 1;
  }
  return width;
}

/** Breaks a paragraph into lines of at most `width` columns; a word that is longer is cut, "95 %" is one word. */
export function wrapText(text: string, width: number, first = "", rest: string = first): string[] {
  const lines: string[] = [];
  let line = first;
  let empty = true;
  const words = text.split(/ (?!%(?:[ .,;:)]|$))/).filter((word) => word !== "");
  for (let i = 0; i < words.length; i++) {
    const word = words[i] as string;
    const next = empty ? line + word : `${line} ${word}`;
    if (textWidth(next) <= width) {
      line = next;
      empty = false;
      continue;
    }
    const room = width - textWidth(rest);
    if (!empty) {
      lines.push(line);
      line = rest;
      empty = true;
      i -= 1;
    } else {
      const letters = [...word];
      let cut = 1;
      while (cut < letters.length && textWidth(letters.slice(0, cut + 1).join("")) <= room) cut += 1;
      lines.push(line + letters.slice(0, cut).join(""));
      line = rest;
      words[i] = letters.slice(cut).join("");
      if (words[i] !== "") i -= 1;
    }
  }
  if (!empty) lines.push(line);
  return lines;
}

/** Pads to a width in columns. */
export function padText(text: string, width: number, side: "left" | "right"): string {
  const blanks = " ".repeat(Math.max(width - textWidth(text), 0));
  return side === "left" ? text + blanks : blanks + text;
}
