// Prints every result as JSON, under Node or Deno: node test/engines/runHere.mjs
import { readFileSync } from "node:fs";
import * as library from "../../dist/index.js";
import { demoFiles, everyResult } from "./everyResult.mjs";

const demo = demoFiles.map((name) => [name, readFileSync(new URL(`../../data-demo/${name}`, import.meta.url), "utf8")]);
console.log(JSON.stringify(everyResult(library, Object.fromEntries(demo))));
