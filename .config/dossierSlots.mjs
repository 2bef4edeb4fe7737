/** Chapters of the dossier whose tables may be missing or change their shape: fuzzing, mutation, golden results, speed. */
import { markdownTables, notMeasured, numberIn } from "./markdownTables.mjs";

/** test/fuzz/results.json: {cases, seed, seconds, crashes, hangs, silentRows, wrong?}, one run or a list of runs. */
export function fuzz(text) {
  const question = "Does bad input ever crash it, hang it, or lose a row silently?";
  const command = "npm run fuzz";
  if (text === null) return notMeasured(question, command);
  const stored = JSON.parse(text);
  const runs = Array.isArray(stored) ? stored : [stored];
  const sum = (name) => runs.reduce((total, run) => total + (run[name] ?? 0), 0);
  const [cases, crashes, hangs, silent, wrong] = ["cases", "crashes", "hangs", "silentRows", "wrong"].map(sum);
  const seen = `${crashes} crashes, ${hangs} hangs, ${silent} rows dropped without a word${runs.some((run) => "wrong" in run) ? `, ${wrong} wrong answers` : ""}`;
  return {
    question,
    figure: `${cases.toLocaleString("en")} broken inputs: ${seen}`,
    command,
    weak: crashes + hangs + silent + wrong > 0 ? [`Not mended: ${seen}.`] : [],
    detail: [`Seeds ${runs.map(({ seed }) => seed).join(", ")}; ${Math.round(sum("seconds"))} s of work.`],
  };
}

/** bench/mutation.md: its first table, whatever the columns. */
export function mutation(text) {
  const question = "Would the tests notice a wrong line?";
  const command = "npm run mutation";
  if (text === null) return notMeasured(question, command);
  const [table] = markdownTables(text);
  if (!table || table.rows.length === 0) return notMeasured(question, command);
  const score = table.columns.find((name) => /score|%/i.test(name)) ?? table.columns.at(-1);
  const scores = table.rows.map((row) => numberIn(row[score])).filter(Number.isFinite);
  const [low, high] = [Math.min(...scores), Math.max(...scores)];
  const short = table.columns.filter((name) => ["folder", "mutants", "drawn", score, "95 % limits"].includes(name));
  const columns = short.length > 2 ? short : table.columns;
  return {
    question,
    figure: `${low === high ? low : `${low} to ${high}`} % of the wrong lines planted are noticed, by folder (${scores.length} ${scores.length === 1 ? "folder" : "folders"})`,
    command,
    weak: table.rows
      .filter((row) => numberIn(row[score]) === low)
      .map((row) => `Least noticed: ${row[table.columns[0]]}, ${row[score]} %.`),
    detail: [
      `| ${columns.join(" | ")} |`,
      `| ${columns.map(() => "---").join(" | ")} |`,
      ...table.rows.map((row) => `| ${columns.map((name) => row[name]).join(" | ")} |`),
      "",
      "More: [bench/mutation.md](../bench/mutation.md).",
    ],
  };
}

/** Words about test/golden/results.json. */
export function golden(text) {
  if (text === null) return { figure: "", detail: "" };
  const { version, results } = JSON.parse(text);
  return {
    figure: `; ${results.length} stored results of version ${version} unchanged`,
    detail: `Stored results of the demo files (test/golden) fail when a number changes without an entry in test/golden/CHANGES.md; they are a detector of change, not an oracle.`,
  };
}

/** bench/results.md: every table with a column of peers. */
export function speed(text) {
  const question = "How fast is it?";
  const command = "npm run bench";
  if (text === null) return notMeasured(question, command);
  const peers = ["against", "ratio"];
  const tables = markdownTables(text).filter(({ columns }) => peers.some((name) => columns.includes(name)));
  const rows = tables.flatMap(({ heading, columns, rows: all }) =>
    all.map((row) => ({
      heading,
      what: row[columns[0]],
      here: `${row[columns[1]]}${/^(us|ms|s)$/.test(columns[1]) ? ` ${columns[1]}` : ""}`,
      peer: row[peers.find((name) => columns.includes(name))],
    })),
  );
  const cell = (value) => (value ?? "").replaceAll("|", "\\|");
  const [first, second] = rows;
  const slower = rows.filter(({ peer }) => {
    const ratio = /^([\d.,]+) x\b/.exec(peer ?? "");
    return ratio !== null && numberIn(ratio[1]) < 1;
  });
  return {
    question,
    figure: [first, second]
      .filter(Boolean)
      .map(({ what, here, peer }) => `${what}: ${here} (${peer})`)
      .join("; "),
    command,
    weak: slower.map(({ heading, what, peer }) => `${heading}, ${what}: ${peer}.`),
    detail: [
      "| what | here | against |",
      "| --- | --- | --- |",
      ...rows.map(({ what, here, peer }) => `| ${cell(what)} | ${cell(here)} | ${cell(peer)} |`),
      "",
      `${/^Commit .*$/m.exec(text)?.[0] ?? ""} All tables: [bench/results.md](../bench/results.md).`,
    ],
  };
}
