/** The committed dossier is what its tables say; `node .config/dossier.mjs` writes it again. */
import { readFileSync } from "node:fs";
import { beforeAll, describe, expect, test } from "vitest";

type Read = (path: string) => string | null;
const root = new URL("../..", import.meta.url).pathname;
let dossierText: (read?: Read) => string;
beforeAll(async () => {
  const generator: string = `${root}.config/dossier.mjs`;
  ({ dossierText } = await import(generator));
});

describe("the trust dossier", () => {
  test("is what the generator makes of the committed tables now", () => {
    expect(readFileSync(`${root}.docs/dossier.md`, "utf8"), "node .config/dossier.mjs").toBe(dossierText());
  });

  test("says `not measured` for a table that is not there, and still has every question", () => {
    const nothing = dossierText(() => null);
    expect(nothing.match(/not measured/g)?.length).toBe(9);
    const questions = (text: string): string[] =>
      [...text.matchAll(/^\| ([^|]+\?) \|/gm)].map(([, question]) => question);
    expect(questions(nothing)).toEqual(questions(dossierText()));
    expect(questions(nothing).length).toBe(10);
  });

  test("reads fuzzing and mutation figures when they come, faults under `not as good`", () => {
    const files: Record<string, string> = {
      "test/fuzz/results.json": '{"cases":1000000,"seed":7,"seconds":1800,"crashes":0,"hangs":2,"silentRows":0}',
      "bench/mutation.md":
        "# Mutation\n\n| folder | mutants | killed, % | 95 % limits |\n|---|---|---|---|\n| src/a | 10 | 91.5 | 80 to 97 |\n| src/b | 4 | 72.0 | 50 to 88 |\n",
    };
    const text = dossierText((path) => files[path] ?? null);
    expect(text).toContain("1,000,000 broken inputs: 0 crashes, 2 hangs, 0 rows dropped without a word");
    expect(text).toContain("Not mended: 0 crashes, 2 hangs");
    expect(text).toContain("72 to 91.5 % of the wrong lines planted are noticed, by folder (2 folders)");
    expect(text).toContain("Least noticed: src/b, 72.0 %.");
  });

  test("figures are those of the tables: a changed cell changes the page", () => {
    const read: Read = (path) => {
      const text = readFileSync(`${root}${path}`, "utf8");
      return path === "bench/regret.md" ? text.replace("2.03 (0.14)", "1.23 (0.14)") : text;
    };
    const safe: Read = (path) => {
      try {
        return read(path);
      } catch {
        return null;
      }
    };
    expect(dossierText(safe)).toContain("1.23 to 8.70 $ an acre");
  });
});
