/** Middle value of a list of timings. */
export function median(values) {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)];
}

/** Never time a wrong answer: throws unless two numbers agree to that many digits. */
export function sameDigits(actual, expected, digits, what) {
  const error = Math.abs(actual - expected) / Math.abs(expected);
  if (!(error <= 10 ** -digits))
    throw new Error(`${what}: ${actual} against ${expected}, relative difference ${error}`);
}

/** A Markdown table. */
export function table(header, rows) {
  const line = (cells) => `| ${cells.join(" | ")} |`;
  return [line(header), line(header.map(() => "---")), ...rows.map(line)].join("\n");
}
