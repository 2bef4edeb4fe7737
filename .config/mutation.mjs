/**
 * Mutation testing: changes the source in small ways, one at a time, and counts the changes that no test notices.
 *
 *     node .config/mutation.mjs [folder ...] [--share 0.05] [--seed 1] [--out file]
 *
 * `--share 1` runs every mutant of a folder; a smaller share draws a sample (see mutationSample.mjs). The figures of the folders
 * that ran replace theirs in bench/mutation.json, reasons given to survivors before are kept, and bench/mutation.md is written.
 */
import { execFileSync } from "node:child_process";
import { mkdtempSync, readdirSync, readFileSync, realpathSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { inSample, isText, mutantName, textAt } from "./mutationSample.mjs";
import { mutationText } from "./mutationText.mjs";

const root = new URL("..", import.meta.url).pathname;

/** Folders whose tests run against the mutants of a folder, its own first. */
const testsOf = {
  numeric: ["numeric", "curves"],
  curves: ["curves"],
  fit: ["fit"],
  interval: ["interval"],
  standability: ["standability"],
  recommend: ["recommend"],
};

/** Test files that take over 10 s, or start processes: left out, so a mutant that only they notice counts as survived. */
const slow = new Set([
  "test/fit/plateauProperty.test.ts",
  "test/recommend/commands.test.ts",
  "test/recommend/rateProperties.test.ts",
]);

const { values: option, positionals } = parseArgs({
  allowPositionals: true,
  options: {
    share: { type: "string", default: "1" },
    seed: { type: "string", default: "1" },
    out: { type: "string", default: `${root}bench/mutation.json` },
  },
});
const share = Number(option.share);
const seed = Number(option.seed);

function testFiles(folder) {
  const own = testsOf[folder].flatMap((name) =>
    readdirSync(`${root}test/${name}`)
      .filter((file) => file.endsWith(".test.ts"))
      .map((file) => `test/${name}/${file}`),
  );
  return [...own, "test/publishedChecks.test.ts"].filter((file) => !slow.has(file));
}

/** One run of Stryker on a folder; its report's mutants, with names. */
function stryker(folder, work, sample, timeoutMS) {
  const config = {
    testRunner: "vitest",
    vitest: { configFile: ".config/mutation.config.ts" },
    plugins: ["@stryker-mutator/vitest-runner", "./.config/mutationSample.mjs"],
    checkers: ["sample"],
    coverageAnalysis: "perTest",
    // what runs only while a test file loads would need every test for every mutant; such mutants are counted apart
    ignoreStatic: true,
    concurrency: 1,
    timeoutMS,
    timeoutFactor: 4,
    dryRunTimeoutMinutes: 30,
    tempDirName: join(work, "sandbox"),
    reporters: ["json", "progress-append-only"],
    jsonReporter: { fileName: join(work, "report.json") },
    mutate: [`src/${folder}/**/*.ts`],
    ignorePatterns: ["dist", "coverage"],
    allowConsoleColors: false,
    // a symbolic link is not found as a folder, so the link is made below, where Node looks for it
    symlinkNodeModules: false,
    // the compiler in use has no JavaScript interface; the sandbox needs no tsconfig
    tsconfigFile: "none.json",
  };
  writeFileSync(join(work, "stryker.json"), JSON.stringify(config));
  execFileSync(`${root}node_modules/.bin/stryker`, ["run", join(work, "stryker.json")], {
    cwd: root,
    stdio: ["ignore", "inherit", "inherit"],
    env: {
      ...process.env,
      STANDCURVE_MUTATION_TESTS: testFiles(folder).join(","),
      STANDCURVE_MUTATION_SAMPLE: JSON.stringify(sample),
    },
  });
  const report = JSON.parse(readFileSync(join(work, "report.json"), "utf8"));
  return Object.entries(report.files).flatMap(([file, { source, mutants }]) =>
    mutants.map((mutant) => ({
      file,
      line: mutant.location.start.line,
      mutator: mutant.mutatorName,
      original: textAt(source, mutant.location),
      replacement: mutant.replacement,
      code: source.split("\n")[mutant.location.start.line - 1].trim(),
      name: mutantName(file, mutant.location, mutant.mutatorName, mutant.replacement),
      status: mutant.status,
      // Stryker counts how often the mutated place is reached: over the limit is an endless loop, however slow the machine
      endless: mutant.status === "Timeout" && /hit limit/i.test(mutant.statusReason ?? ""),
    })),
  );
}

function measure(folder) {
  const work = mkdtempSync(join(tmpdir(), "mutation-"));
  symlinkSync(realpathSync(`${root}node_modules`), join(work, "node_modules"));
  const all = stryker(folder, work, { seed, share }, 60_000);
  const wanted = all.filter(({ mutator, original }) => !isText(mutator, original));
  const drawn = wanted.filter(({ name }) => inSample(name, seed, share));
  const late = drawn.filter(({ status, endless }) => status === "Timeout" && !endless);
  if (late.length > 0) {
    const again = stryker(folder, work, { only: late.map(({ name }) => name) }, 300_000);
    for (const mutant of late)
      Object.assign(
        mutant,
        again.find(({ name }) => name === mutant.name),
      );
  }
  rmSync(work, { recursive: true });
  const count = (status) => drawn.filter((mutant) => mutant.status === status).length;
  const endless = drawn.filter((mutant) => mutant.endless).length;
  return {
    date: new Date().toISOString().slice(0, 10),
    seed,
    share,
    mutants: wanted.length,
    text: all.length - wanted.length,
    drawn: drawn.length,
    killed: count("Killed"),
    endless,
    survived: count("Survived"),
    noCoverage: count("NoCoverage"),
    static: count("Ignored"),
    timeouts: count("Timeout") - endless,
    rechecked: late.length,
    broken: count("RuntimeError"),
    survivors: drawn
      .filter(({ status, endless }) => ["Survived", "NoCoverage", "Timeout"].includes(status) && !endless)
      .map(({ file, line, mutator, original, replacement, code, status }) => ({
        file,
        line,
        mutator,
        original: original.length > 80 ? `${original.slice(0, 77)}...` : original,
        replacement,
        code,
        status,
        reason: "",
      })),
  };
}

/** What stays the same when lines move. */
const sameMutant = (a, b) =>
  a.file === b.file &&
  a.mutator === b.mutator &&
  a.original === b.original &&
  a.replacement === b.replacement &&
  a.code === b.code;

let record = { schema: "standcurve/mutation/1", folders: {} };
try {
  record = JSON.parse(readFileSync(option.out, "utf8"));
} catch (error) {
  if (error.code !== "ENOENT") throw error;
}
for (const folder of positionals.length > 0 ? positionals : Object.keys(testsOf)) {
  const result = measure(folder);
  const before = record.folders[folder]?.survivors ?? [];
  for (const mutant of result.survivors)
    mutant.reason = before.find((other) => sameMutant(mutant, other))?.reason ?? "";
  record.folders[folder] = result;
  record.folders = Object.fromEntries(
    Object.keys(testsOf)
      .filter((name) => record.folders[name])
      .map((name) => [name, record.folders[name]]),
  );
  writeFileSync(option.out, `${JSON.stringify(record, null, 2)}\n`);
  writeFileSync(option.out.replace(/json$/, "md"), mutationText(record));
}
