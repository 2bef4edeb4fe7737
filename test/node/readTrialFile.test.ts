import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { readTrialFile } from "../../src/node/index.ts";
import { readTrial } from "../../src/trial/readTrial.ts";
import { demo, five, peak, table } from "../report/oddTrials.ts";
import { demoPath, inFolder } from "./runInProcess.ts";

const text = table(peak, five, { hybrids: ["Größe"] });

async function hybrids(bytes: Uint8Array): Promise<readonly string[] | undefined> {
  return inFolder(async (folder) => {
    writeFileSync(join(folder, "t.csv"), bytes);
    return (await readTrialFile(join(folder, "t.csv"))).trial?.hybrids;
  });
}

describe("reading a trial from a file", () => {
  test("gives what reading its text gives", async () => {
    expect(await readTrialFile(demoPath("plots"))).toEqual(readTrial(demo("plots")));
  });

  test("spreadsheets' encodings are read: UTF-8 with and without mark, UTF-16 of both kinds, Windows-1252", async () => {
    const utf16 = Buffer.from(`\ufeff${text}`, "utf16le");
    const swapped = Buffer.from(utf16).swap16();
    const windows = Buffer.from(text, "latin1"); // the same as Windows-1252 for these letters
    for (const bytes of [Buffer.from(text), Buffer.from(`\ufeff${text}`), utf16, swapped, windows]) {
      expect(await hybrids(bytes)).toEqual(["Größe"]);
    }
  });

  test("a guessed encoding is noted, a known one is not", async () => {
    await inFolder(async (folder) => {
      const path = join(folder, "t.csv");
      for (const [bytes, noted] of [
        [Buffer.from(text, "latin1"), true],
        [Buffer.from(text), false],
      ] as const) {
        writeFileSync(path, bytes);
        const { issues } = await readTrialFile(path);
        expect(issues.some(({ code }) => code === "encoding-guessed")).toBe(noted);
      }
    });
  });

  test("a missing file and a folder are told apart", async () => {
    await expect(readTrialFile("nowhere/t.csv")).rejects.toMatchObject({ code: "unreadable-source" });
    await expect(readTrialFile(".")).rejects.toThrow("is a folder");
  });
});
