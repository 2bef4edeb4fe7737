import { hostileCells, hostileHeaders, hostilePieces } from "./dictionary.mjs";

const delimiters = [",", ";", "\t", "|"];
const lineEnds = ["\n", "\r\n", "\r"];

/**
 * Makes a broken file out of good ones: one to five changes drawn from `random`, to the text first and then, now and then, to its bytes.
 *
 * @param {ReturnType<import("./caseRandom.mjs").caseRandom>} random
 * @param {readonly string[]} corpus - texts to start from
 * @returns {Uint8Array} the bytes of the file
 */
export function mutateTable(random, corpus) {
  let text = random.pick(corpus);
  const changes = 1 + random.below(5);
  for (let i = 0; i < changes; i++) text = random.pick(textChanges)(text, random, corpus);
  if (random.next() < 0.7) return Buffer.from(text, "utf8");
  return random.pick(byteChanges)(text, random);
}

/** A change to the lines of a text. */
const onLines = (change) => (text, random, corpus) => {
  const lines = text.split("\n");
  change(lines, random, corpus);
  return lines.join("\n");
};

/** A change to the cells of one line, cut at the separator it has most of. */
const onCells = (change, header = false) =>
  onLines((lines, random) => {
    const at = header ? 0 : random.below(lines.length);
    const line = lines[at];
    const delimiter = delimiterOf(line);
    const cells = line.split(delimiter);
    change(cells, random);
    lines[at] = cells.join(delimiter);
  });

function delimiterOf(line) {
  let best = ",";
  for (const one of delimiters) if (line.split(one).length > line.split(best).length) best = one;
  return best;
}

const textChanges = [
  // Rows: doubled, cut, dropped, moved, repeated header, blank ones, titles, a foreign file in the middle.
  onLines((lines, random) => lines.splice(random.below(lines.length), 0, random.pick(lines))),
  onLines((lines, random) => {
    const at = random.below(lines.length);
    lines[at] = lines[at].slice(0, random.below(lines[at].length + 1));
  }),
  onLines((lines, random) => lines.splice(random.below(lines.length), 1 + random.below(3))),
  onLines((lines, random) => lines.splice(random.below(lines.length), 0, lines[0])),
  onLines((lines, random) =>
    lines.splice(random.below(lines.length), 0, random.pick(["", "   ", ",,,", ";;", "\t", '""', '"",""'])),
  ),
  onLines((lines, random) =>
    lines.unshift(random.pick(["Trial of the year", "sep=;", "sep=,", '"sep=|"', "a,b,c", "", "\ufeff"])),
  ),
  onLines((lines, random) => lines.push(random.pick(["Mean,,,200", "Total", "# end", "---", "(4 rows)"]))),
  (text, random, corpus) => {
    const other = random.pick(corpus);
    const at = random.below(text.length + 1);
    return (
      text.slice(0, at) + other.slice(random.below(other.length + 1)) + (random.next() < 0.5 ? text.slice(at) : "")
    );
  },
  // Cells: another value, quoted, with a line end, with a stray quote, huge, moved, dropped, one more.
  onCells((cells, random) => {
    cells[random.below(cells.length)] = random.pick(hostileCells);
  }),
  onCells((cells, random) => {
    cells[random.below(cells.length)] = random.pick(hostileCells);
  }),
  onCells((cells, random) => {
    const at = random.below(cells.length);
    cells[at] = `"${cells[at].replaceAll('"', '""')}"`;
  }),
  onCells((cells, random) => {
    const at = random.below(cells.length);
    cells[at] = `"${cells[at]}${random.pick(lineEnds)}${random.pick(hostileCells).replaceAll('"', '""')}"`;
  }),
  onCells((cells, random) => {
    const at = random.below(cells.length);
    const place = random.below(cells[at].length + 1);
    cells[at] = `${cells[at].slice(0, place)}"${cells[at].slice(place)}`;
  }),
  onCells((cells, random) => {
    cells[random.below(cells.length)] = random.pick(["x", "9", '"', " ", "é", "\u0000"]).repeat(1 + random.below(3000));
  }),
  onCells((cells, random) => cells.splice(random.below(cells.length), 1)),
  onCells((cells, random) => cells.splice(random.below(cells.length + 1), 0, random.pick(hostileCells))),
  // The header: another word, a column less, one more, one twice.
  onCells((cells, random) => {
    cells[random.below(cells.length)] = random.pick(hostileHeaders);
  }, true),
  onCells((cells, random) => {
    cells[random.below(cells.length)] = random.pick(cells);
  }, true),
  onCells((cells, random) => cells.splice(random.below(cells.length), 1), true),
  onCells((cells, random) => cells.push(random.pick(hostileHeaders)), true),
  // A whole column takes one value.
  onLines((lines, random) => {
    const delimiter = delimiterOf(lines[0]);
    const column = random.below(lines[0].split(delimiter).length);
    const value = random.pick(hostileCells);
    for (let i = 1; i < lines.length; i++) {
      const cells = lines[i].split(delimiter);
      if (cells.length > column) cells[column] = value;
      lines[i] = cells.join(delimiter);
    }
  }),
  // The whole text: separators, line ends of one or mixed kinds, decimal marks, no last line end.
  (text, random) => text.replaceAll(random.pick(delimiters), random.pick(delimiters)),
  (text, random) => text.replaceAll(/\r?\n/g, random.pick(lineEnds)),
  (text, random) => text.replaceAll(/\r?\n/g, () => random.pick(lineEnds)),
  (text, random) => (random.next() < 0.5 ? text.replaceAll(".", ",") : text.replaceAll(/(\d)(\d{2})\b/g, "$1,$2")),
  (text) => text.replace(/\s+$/, ""),
  // Characters anywhere.
  (text, random) => {
    const at = random.below(text.length + 1);
    return text.slice(0, at) + random.pick(hostilePieces) + text.slice(at + random.below(10));
  },
  (text, random) => {
    const from = random.below(text.length + 1);
    return text.slice(0, from) + text.slice(from + random.below(60));
  },
  (text, random) => text.slice(0, random.below(text.length + 1)),
];

const byteChanges = [
  (text, random) => {
    const bytes = Buffer.from(text, "utf8");
    const flips = 1 + random.below(4);
    for (let i = 0; i < flips && bytes.length > 0; i++) bytes[random.below(bytes.length)] ^= 1 << random.below(8);
    return bytes;
  },
  (text, random) => {
    const bytes = Buffer.from(text, "utf8");
    if (bytes.length > 0) bytes[random.below(bytes.length)] = random.below(256);
    return bytes;
  },
  (text) => Buffer.from(text, "latin1"),
  (text) => Buffer.from(`\ufeff${text}`, "utf16le"),
  (text) => Buffer.from(text, "utf16le"),
  (text) => Buffer.from(`\ufeff${text}`, "utf16le").swap16(),
  (text) => Buffer.from(`\ufeff${text}`, "utf8"),
  (text, random) =>
    Buffer.concat([Buffer.from(random.pick(["PK\u0003\u0004", "%PDF-", "<html>", "\u0000\u0000"])), Buffer.from(text)]),
];
