/** The workflows hold no secret and no address, take no more rights than they need, and call what is there. */
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";

const root = new URL("../..", import.meta.url).pathname;
const folder = `${root}.github/workflows`;
const scripts = Object.keys(JSON.parse(readFileSync(`${root}package.json`, "utf8")).scripts);

describe.each(readdirSync(folder))("%s", (file) => {
  const text = readFileSync(`${folder}/${file}`, "utf8");

  test("holds no secret, no token and no address", () => {
    expect(text).not.toMatch(/secrets\.|token:(?! write)|https?:|registry-url|password/i);
  });

  test("may only read, but for the identity that provenance needs", () => {
    expect(text).toMatch(/^permissions:\n {2}contents: read$/m);
    const writes = [...text.matchAll(/^\s+([\w-]+): write$/gm)].map(([, name]) => name);
    expect(writes).toEqual(file === "publish.yml" ? ["id-token"] : []);
  });

  test("names a version of every action, and keeps no credentials in the checkout", () => {
    const actions = [...text.matchAll(/uses: (\S+)/g)].map(([, action = ""]) => action);
    expect(actions.filter((action) => !/^\.\/|@(v\d+|[0-9a-f]{40})$/.test(action))).toEqual([]);
    const checkouts = text.match(/actions\/checkout@/g)?.length ?? 0;
    expect(text.match(/persist-credentials: false/g)?.length ?? 0).toBe(checkouts);
  });

  test("calls scripts and files that are there", () => {
    const called = [...text.matchAll(/npm run (?:-s )?([\w:]+)/g)].map(([, name = ""]) => name);
    expect(called.filter((name) => !scripts.includes(name))).toEqual([]);
    const files = [...text.matchAll(/(?:node |run: |uses: )(\.[\w./-]+)/g)].map(([, path = ""]) => path);
    expect(files.filter((path) => !existsSync(`${root}${path}`))).toEqual([]);
    expect(called.length + files.length).toBeGreaterThan(0);
  });
});

test("nothing is published before the whole check, and then with provenance", () => {
  const publish = readFileSync(`${folder}/publish.yml`, "utf8");
  expect(publish).toMatch(/check:\n {4}uses: \.\/\.github\/workflows\/check\.yml/);
  expect(publish).toMatch(/publish:\n {4}needs: check/);
  expect(publish).toContain("npm publish --provenance");
  expect(readFileSync(`${folder}/check.yml`, "utf8")).toMatch(/run: \.ci\/run[\s\S]*npm audit --omit=dev/);
});
