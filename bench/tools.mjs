/** Full sizes, as in results.md: STANDCURVE_BENCH=full, or --full. Without it everything is small enough for every push. */
export const full = process.env.STANDCURVE_BENCH === "full" || process.argv.includes("--full");

/** Middle value of a list of timings. */
export function median(values) {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)];
}

/** Microseconds of processor time, all threads: less moved by other load than the clock. */
export function processorTime(run) {
  const start = process.cpuUsage();
  run();
  const { user, system } = process.cpuUsage(start);
  return user + system;
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
