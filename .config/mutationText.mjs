/** bench/mutation.md from bench/mutation.json. */

/** P(X >= count) of a binomial count of `size` trials, by its terms. */
function upperTail(count, size, share) {
  if (share <= 0) return count > 0 ? 0 : 1;
  if (share >= 1) return 1;
  let logTerm = size * Math.log1p(-share);
  let sum = count <= 0 ? Math.exp(logTerm) : 0;
  for (let k = 1; k <= size; k++) {
    logTerm += Math.log((size - k + 1) / k) + Math.log(share / (1 - share));
    if (k >= count) sum += Math.exp(logTerm);
  }
  return sum;
}

function bisect(above) {
  let [low, high] = [0, 1];
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (above(middle)) high = middle;
    else low = middle;
  }
  return (low + high) / 2;
}

/** Exact 95 % interval of a share (Clopper & Pearson 1934, Biometrika 26, 404-413). */
export function exactInterval(count, size) {
  return [
    count === 0 ? 0 : bisect((p) => upperTail(count, size, p) > 0.025),
    count === size ? 1 : bisect((p) => 1 - upperTail(count + 1, size, p) < 0.025),
  ];
}

/** How the reason of a survivor begins that a test written later kills. */
const CLOSED = "Hole, closed since";

/** Killed of valid, the share, and its exact interval (the share itself when every mutant ran). */
export function score(folder) {
  const killed = folder.killed + folder.endless;
  const valid = killed + folder.survived + folder.noCoverage + folder.timeouts;
  const share = killed / valid;
  const closed = folder.survivors.filter(({ reason }) => reason.startsWith(CLOSED)).length;
  return {
    killed,
    valid,
    share,
    closed,
    since: (killed + closed) / valid,
    interval: folder.share < 1 ? exactInterval(killed, valid) : [share, share],
  };
}

const percent = (share) => `${(100 * share).toFixed(1)}`;
const cell = (text) => `\`${text.replace(/\s+/g, " ").replaceAll("|", "\\|").replaceAll("`", "'")}\``;

function tableRow(name, folder) {
  const { share, interval, since } = score(folder);
  const limits = folder.share < 1 ? `${percent(interval[0])} to ${percent(interval[1])}` : "all ran";
  const cells = [`src/${name}`, folder.mutants, folder.drawn, folder.killed, folder.endless, folder.survived];
  return `| ${[...cells, folder.noCoverage, folder.timeouts, percent(share), limits, percent(since), folder.seed, folder.date].join(" | ")} |`;
}

function survivorList(name, folder) {
  if (folder.survivors.length === 0) return `### src/${name}\n\nNone.\n`;
  const rows = folder.survivors.map(
    ({ file, line, original, replacement, status, reason }) =>
      `| ${file.replace(`src/${name}/`, "")}:${line} | ${cell(original)} | ${cell(replacement)} | ${status === "Survived" ? "" : `${status}: `}${reason} |`,
  );
  return `### src/${name}\n\n| place | was | became | why no test noticed |\n|---|---|---|---|\n${rows.join("\n")}\n`;
}

/** Folders to be measured. */
export const measuredFolders = ["numeric", "curves", "fit", "interval", "standability", "recommend"];

export function mutationText(record) {
  const folders = Object.entries(record.folders);
  const open = measuredFolders.filter((name) => record.folders[name] === undefined).map((name) => `src/${name}`);
  return `# Mutation testing

Would the tests notice a wrong line? A tool (Stryker) changes the source in one place, a *mutant*: \`<\` becomes \`<=\`, a sum a
difference, a condition always true. The tests then run. A mutant that makes a test fail is *killed*; one that none notices
*survives* and is a hole in the tests, or a change without effect.

\`npm run mutation -- FOLDER --share 0.05 --seed 1\` repeats a row. Only the fast tests run: those of the folder itself (for
\`numeric\` those of \`curves\` too) and \`publishedChecks\`, without the files that take over 10 s. So
the whole suite notices more than this table says.

| folder | mutants | drawn | killed | endless loop | survived | not reached | time-out | killed, % | 95 % limits | with tests since, % | seed | date |
|---|---|---|---|---|---|---|---|---|---|---|---|---|
${folders.map(([name, folder]) => tableRow(name, folder)).join("\n")}

${open.length > 0 ? `Not measured yet: ${open.join(", ")}.\n\n` : ""}* *drawn*: mutants of the sample, all of them or fewer; the limits are exact binomial ones (Clopper & Pearson).
* *with tests since*: counts survivors as killed for which a test was written after this sample. That test was aimed at them, so this
  figure flatters the rest of the folder; the next sample (another seed) tells.
* *endless loop*: the mutated place was reached over 100 times as often as without the mutant; counted as killed.
* *time-out*: took too long by the clock, and again when run once more with five minutes; never counted as killed.
* *not reached* counts as not killed.
* Left out: mutants that run only while a test file loads (Stryker would have to run every test for each of them);
  those reached both ways are active in the tests only.
  ${folders.map(([name, folder]) => `${folder.static} drawn in ${name}`).join(", ")}.
* Changes of sentences (an empty string for a message) are left out: ${folders.map(([name, folder]) => `${folder.text} in ${name}`).join(", ")}. Codes and
  names, strings without a blank, are in.

## Survivors

"Hole" means that a test is missing; "no effect" that no test can notice.

${folders.map(([name, folder]) => survivorList(name, folder)).join("\n")}`;
}
