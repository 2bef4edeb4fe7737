import { mkdirSync, readdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { writeFilesAtomically } from "../../src/node/index.ts";
import { inFolder } from "./runInProcess.ts";

const read = (folder: string): Record<string, string> =>
  Object.fromEntries(
    readdirSync(folder, { withFileTypes: true }).map((entry) => [
      entry.name,
      entry.isDirectory() ? "folder" : readFileSync(join(folder, entry.name), "utf8"),
    ]),
  );

describe("writing files all or none", () => {
  test("a new folder appears with all files, its parents too, and nothing beside it", async () => {
    await inFolder(async (folder) => {
      const paths = await writeFilesAtomically(join(folder, "x", "y"), { "a.txt": "1", "b.txt": "ü" });
      expect(paths).toEqual([join(folder, "x", "y", "a.txt"), join(folder, "x", "y", "b.txt")]);
      expect(read(join(folder, "x", "y"))).toEqual({ "a.txt": "1", "b.txt": "ü" });
      expect(readdirSync(join(folder, "x"))).toEqual(["y"]);
    });
  });

  test.skipIf(process.platform === "win32")("the folder is open to whom the user's other folders are", async () => {
    await inFolder(async (folder) => {
      mkdirSync(join(folder, "plain"));
      await writeFilesAtomically(join(folder, "made"), { "a.txt": "1" });
      expect(statSync(join(folder, "made")).mode).toBe(statSync(join(folder, "plain")).mode);
    });
  });

  test("in a folder that exists, old results are replaced and other files are left alone", async () => {
    await inFolder(async (folder) => {
      writeFileSync(join(folder, "a.txt"), "old");
      writeFileSync(join(folder, "mine.txt"), "kept");
      await writeFilesAtomically(folder, { "a.txt": "new", "b.txt": "new" });
      expect(read(folder)).toEqual({ "a.txt": "new", "b.txt": "new", "mine.txt": "kept" });
    });
  });

  test("a failure while writing leaves no trace, parents included", async () => {
    await inFolder(async (folder) => {
      const tooLong = `${"x".repeat(300)}.txt`;
      await expect(writeFilesAtomically(join(folder, "p", "q"), { "a.txt": "1", [tooLong]: "2" })).rejects.toThrow();
      expect(readdirSync(folder)).toEqual([]);
    });
  });

  test("a failure in the middle of replacing puts every old file back and takes every new one out", async () => {
    await inFolder(async (folder) => {
      writeFileSync(join(folder, "a.txt"), "old a");
      // A folder in the place of the last file makes the last move fail, after the others succeeded.
      mkdirSync(join(folder, "z.txt"));
      writeFileSync(join(folder, "z.txt", "inside"), "");
      await expect(
        writeFilesAtomically(folder, { "a.txt": "new a", "b.txt": "new b", "z.txt": "new z" }),
      ).rejects.toThrow();
      expect(read(folder)).toEqual({ "a.txt": "old a", "z.txt": "folder" });
      expect(readdirSync(join(folder, "z.txt"))).toEqual(["inside"]);
    });
  });

  test("a name that would leave the folder is refused", async () => {
    await inFolder(async (folder) => {
      for (const name of ["../up.txt", "sub/down.txt", "..", ""]) {
        await expect(writeFilesAtomically(join(folder, "r"), { [name]: "1" })).rejects.toThrow("not a plain file name");
      }
      expect(readdirSync(folder)).toEqual([]);
    });
  });
});
