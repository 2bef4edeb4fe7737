import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { runCommand } from "../../src/node/index.ts";

export const demoPath = (name: string): string => new URL(`../../data-demo/${name}.csv`, import.meta.url).pathname;

export interface Run {
  readonly code: number;
  readonly out: string;
  readonly err: string;
}

/** Runs a command with captured streams. */
export async function run(
  argv: readonly string[],
  stdin: readonly (string | Uint8Array)[] = [],
  isTTY = false,
): Promise<Run> {
  let out = "";
  let err = "";
  const code = await runCommand(argv, {
    stdout: { write: (text) => (out += text) },
    stderr: { write: (text) => (err += text), isTTY },
    stdin: (async function* () {
      yield* stdin;
    })(),
  });
  return { code, out, err };
}

/** Runs a test with a folder of its own that is gone afterwards. */
export async function inFolder<T>(use: (folder: string) => Promise<T>): Promise<T> {
  const folder = mkdtempSync(join(tmpdir(), "standcurve-test-"));
  try {
    return await use(folder);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
