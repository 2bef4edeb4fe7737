/**
 * Stryker "checker" that lets only the mutants of a sample through, so that a folder of thousands can be measured in minutes.
 *
 * Each mutant has a number from 0 to 1, the SHA-256 of seed and mutant; it is in the sample when the number is below the share.
 * So a mutant's luck depends on nothing but the seed: not on order, machine or other mutants.
 */
import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { relative } from "node:path";
import { declareFactoryPlugin, PluginKind } from "@stryker-mutator/api/plugin";

const { seed = 1, share = 1, only } = JSON.parse(process.env["STANDCURVE_MUTATION_SAMPLE"] ?? "{}");

/** The name of a mutant: `file:line:column-line:column mutator replacement`, lines and columns counted from 1. */
export function mutantName(file, { start, end }, mutator, replacement) {
  return `${file}:${start.line}:${start.column}-${end.line}:${end.column} ${mutator} ${replacement}`;
}

/** Whether the mutant is drawn with this seed. */
export function inSample(name, sampleSeed, sampleShare) {
  const number = createHash("sha256").update(`${sampleSeed} ${name}`).digest().readUInt32BE(0) / 2 ** 32;
  return number < sampleShare;
}

/** The text between two places (counted from 1) of a source. */
export function textAt(source, { start, end }) {
  const lines = source.split("\n").slice(start.line - 1, end.line);
  lines[lines.length - 1] = lines[lines.length - 1].slice(0, end.column - 1);
  lines[0] = lines[0].slice(start.column - 1);
  return lines.join("\n");
}

/** A string that people read, not a code: it has a blank, or is empty. A changed sentence is no fault of the arithmetic. */
export function isText(mutator, original) {
  return mutator === "StringLiteral" && (/\s/.test(original) || original.length <= 2);
}

const fromOne = ({ line, column }) => ({ line: line + 1, column: column + 1 });

const checkOne = (mutant) => {
  const file = relative(process.cwd(), mutant.fileName);
  const location = { start: fromOne(mutant.location.start), end: fromOne(mutant.location.end) };
  const name = mutantName(file, location, mutant.mutatorName, mutant.replacement);
  const drawn = only ? only.includes(name) : inSample(name, seed, share);
  const text = isText(mutant.mutatorName, textAt(readFileSync(mutant.fileName, "utf8"), location));
  return drawn && !text ? { status: "passed" } : { status: "compileError", reason: "not drawn" };
};

const sampleChecker = () => ({
  init: async () => {},
  check: async (mutants) => Object.fromEntries(mutants.map((mutant) => [mutant.id, checkOne(mutant)])),
  group: async (mutants) => [mutants.map(({ id }) => id)],
});

export const strykerPlugins = [declareFactoryPlugin(PluginKind.Checker, "sample", sampleChecker)];
