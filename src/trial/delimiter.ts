const candidates = [",", ";", "\t", "|"] as const;
export type Delimiter = (typeof candidates)[number];

/**
 * The separator of a table, judged on its first lines outside quotes: the one that cuts the most lines into the same
 * number of cells (at least two) as the first line that has any. A tie goes to the semicolon or tab before the comma,
 * because commas also stand inside decimal numbers. A table of one column is read with commas.
 */
export function detectDelimiter(text: string): Delimiter {
  const lines = firstLines(text, 30);
  let best: Delimiter = ",";
  let bestScore = 0;
  for (const delimiter of [";", "\t", "|", ","] as const) {
    const counts = lines.map((line) => line.get(delimiter) ?? 0);
    const first = counts.find((count) => count > 0) ?? 0;
    if (first === 0) continue;
    // Lines that agree with the header weigh most; then the number of cells, so that a stray comma in titles does not win.
    const agreeing = counts.filter((count) => count === first).length;
    const score = (agreeing / lines.length) * (1 + first / (first + 4));
    if (score > bestScore + 1e-12) {
      best = delimiter;
      bestScore = score;
    }
  }
  return best;
}

/** Counts of every candidate outside quotes, for the first lines that are not blank. */
function firstLines(text: string, wanted: number): Map<string, number>[] {
  const lines: Map<string, number>[] = [];
  let counts = new Map<string, number>();
  let quoted = false;
  let blank = true;
  const end = Math.min(text.length, 100_000);
  for (let i = 0; i <= end && lines.length < wanted; i++) {
    const character = i < end ? text.charAt(i) : "\n";
    if (character === '"') quoted = !quoted;
    if (!quoted && (character === "\n" || character === "\r")) {
      if (!blank) lines.push(counts);
      counts = new Map();
      blank = true;
      continue;
    }
    if (character !== " ") blank = false;
    if (!quoted && (candidates as readonly string[]).includes(character))
      counts.set(character, (counts.get(character) ?? 0) + 1);
  }
  return lines;
}
