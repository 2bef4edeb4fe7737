import { randomUUID } from "node:crypto";
import { lstat, mkdir, open, rename, rm, rmdir } from "node:fs/promises";
import { basename, dirname, join, resolve } from "node:path";

/**
 * Writes several files into a folder, all or none.
 *
 * Everything is written to a hidden folder beside its target first, so that a full disk or a forbidden name leaves nothing
 * behind. A new folder then appears by one rename. In a folder that exists, files are moved in one by one, those they replace
 * kept until the last has arrived; a failure moves everything back. Other files in the folder are not touched.
 *
 * @param folder - made when missing, its parents too
 * @param files - plain file names and their text, written as UTF-8
 * @throws the system's error, after everything was put back
 * @example
 * const refused = await writeFilesAtomically("results", { "../report.txt": "" }).catch(({ message }) => message);
 * refused; // => '"../report.txt" is not a plain file name'
 */
export async function writeFilesAtomically(
  folder: string,
  files: Readonly<Record<string, string>>,
): Promise<readonly string[]> {
  const target = resolve(folder);
  const names = Object.keys(files);
  const bad = names.find((name) => basename(name) !== name || name === "" || name === "." || name === "..");
  if (bad !== undefined) throw new Error(`"${bad}" is not a plain file name`);
  const exists = await isThere(target);
  const made = exists ? undefined : await mkdir(dirname(target), { recursive: true });
  let stage: string | null = null;
  try {
    // A plain folder and not the system's temporary kind, whose files other users may not see.
    const hidden = exists ? join(target, ".writing-") : join(dirname(target), `.${basename(target).slice(0, 40)}-`);
    const fresh = `${hidden}${randomUUID()}`;
    await mkdir(fresh);
    stage = fresh;
    for (const name of names) await writeDurably(join(stage, name), files[name] as string);
    if (exists) await moveIn(stage, target, names);
    else await rename(stage, target);
  } catch (error) {
    if (stage !== null) await rm(stage, { recursive: true, force: true });
    if (made !== undefined) await removeEmpty(dirname(target), made);
    throw error;
  }
  if (exists) await rm(stage, { recursive: true, force: true });
  return names.map((name) => join(folder, name));
}

async function writeDurably(path: string, text: string): Promise<void> {
  const file = await open(path, "wx");
  try {
    await file.writeFile(text, "utf8");
    await file.sync();
  } finally {
    await file.close();
  }
}

/** Moves files from the stage into the folder; on failure moves the new ones out and the old ones back. */
async function moveIn(stage: string, target: string, names: readonly string[]): Promise<void> {
  const kept = join(stage, `replaced-${randomUUID()}`);
  await mkdir(kept);
  const undo: (() => Promise<void>)[] = [];
  try {
    for (const name of names) {
      const place = join(target, name);
      const found = await lstat(place).catch(() => null);
      if (found !== null && !found.isDirectory()) {
        await rename(place, join(kept, name));
        undo.push(() => rename(join(kept, name), place));
      }
      await rename(join(stage, name), place);
      undo.push(() => rm(place));
    }
  } catch (error) {
    for (const step of undo.reverse()) await step();
    throw error;
  }
}

async function isThere(path: string): Promise<boolean> {
  return (await lstat(path).catch(() => null)) !== null;
}

/** Removes the folders that were made, from the innermost up, as long as they are empty. */
async function removeEmpty(from: string, upTo: string): Promise<void> {
  let folder = from;
  while (folder.startsWith(upTo)) {
    const removed = await rmdir(folder).then(
      () => true,
      () => false,
    );
    if (!removed) return;
    folder = dirname(folder);
  }
}
