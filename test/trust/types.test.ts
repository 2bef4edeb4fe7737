/** The types that programs see compile with every TypeScript from 5.4 on: the files of test/types against the packed package. */
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { beforeAll, describe, expect, test } from "vitest";

const root = new URL("../..", import.meta.url).pathname;
const slow = process.env["STANDCURVE_SLOW"] === "1";
// In the slow run the build has gone before: a missing one is a failure there.
const built = existsSync(`${root}dist/index.js`) || slow;

interface TypeCheck {
  readonly version: string;
  /** Null when the version could not be had. */
  readonly resolution: string | null;
  readonly errors: readonly string[] | null;
  readonly reason?: string;
}
let checkTypes: (versions?: readonly string[]) => readonly TypeCheck[];
let typescriptVersions: readonly string[];
beforeAll(async () => {
  const script: string = `${root}.config/typeVersions.mjs`;
  ({ checkTypes, typescriptVersions } = await import(script));
});

describe.skipIf(!built)("the types of the packed package", () => {
  test("compile with the TypeScript of this project, however modules are resolved", () => {
    const results = checkTypes(["7.0"]);
    expect(results).toEqual(
      ["node16", "nodenext", "bundler"].map((resolution) => ({ version: "7.0", resolution, errors: [] })),
    );
  }, 300_000);

  test.runIf(slow)("compile with every TypeScript from 5.4 on, where the registry answers", () => {
    const older = typescriptVersions.filter((version) => version !== "7.0");
    expect(older).toEqual(["5.4", "5.6", "5.9", "6.0"]);
    const results = checkTypes(older);
    const had = results.filter(({ errors }) => errors !== null);
    for (const { version, reason } of results.filter(({ errors }) => errors === null))
      console.warn(`TypeScript ${version} was passed over: ${reason}`);
    expect(had.filter(({ errors }) => errors?.length !== 0)).toEqual([]);
    for (const version of new Set(had.map((one) => one.version)))
      expect(had.filter((one) => one.version === version).map(({ resolution }) => resolution)).toEqual([
        "node16",
        "nodenext",
        "bundler",
        "node10",
      ]);
  });
});

test("the claims of test/types can fail: mistakes are expected there, and types are compared exactly", () => {
  const files = readdirSync(`${root}test/types`).map((file) => readFileSync(`${root}test/types/${file}`, "utf8"));
  const count = (sign: RegExp): number => files.reduce((sum, text) => sum + (text.match(sign)?.length ?? 0), 0);
  // An unused @ts-expect-error is an error itself, and `any` equals nothing but itself.
  expect(count(/@ts-expect-error/g)).toBeGreaterThan(10);
  expect(count(/holds<Same</g)).toBeGreaterThan(25);
});
