/** Tables of a Markdown text: the heading above each, its columns and its rows as objects. */
export function markdownTables(text) {
  const tables = [];
  let heading = "";
  let open = null;
  for (const line of text.split("\n")) {
    if (line.startsWith("#")) heading = line.replace(/^#+ /, "");
    if (!line.startsWith("|")) {
      open = null;
      continue;
    }
    const cells = line
      .slice(1, line.lastIndexOf("|"))
      .split(/(?<!\\)\|/)
      .map((cell) => cell.trim());
    if (open === null) {
      open = { heading, columns: cells, rows: [] };
      tables.push(open);
    } else if (!cells.every((cell) => /^:?-+:?$/.test(cell))) {
      open.rows.push(Object.fromEntries(cells.map((cell, j) => [open.columns[j], cell])));
    }
  }
  return tables;
}

/** First number of a cell such as "95.0 ±0.2", "2.03 (0.14)" or "1,024 x"; NaN without one. */
export function numberIn(cell) {
  const found = /-?\d[\d,]*\.?\d*/.exec(cell ?? "");
  return found === null ? Number.NaN : Number(found[0].replaceAll(",", ""));
}

/** "93.1 to 98.7" of the numbers of cells. */
export function rangeOf(cells, decimals = 1) {
  const values = cells.map((cell) => (typeof cell === "number" ? cell : numberIn(cell))).filter(Number.isFinite);
  return `${Math.min(...values).toFixed(decimals)} to ${Math.max(...values).toFixed(decimals)}`;
}

/** What stands for a table that is not there. */
export function notMeasured(question, command) {
  return { question, figure: "not measured", command, weak: [], detail: [] };
}
