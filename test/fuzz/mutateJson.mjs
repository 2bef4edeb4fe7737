import { hostileCells, hostilePieces } from "./dictionary.mjs";

const nodes = [
  null,
  true,
  false,
  0,
  -0,
  1,
  -1,
  0.5,
  1e-300,
  1e300,
  1e308,
  5e-324,
  1e9,
  "",
  "x",
  "NaN",
  "Infinity",
  "__proto__",
  [],
  {},
  [null],
  [[]],
  [1, 2],
  { lowest: 1 },
  { lowest: 3, likely: 2, highest: 1 },
  { "": 1 },
  "a".repeat(500),
];
const names = [
  "__proto__",
  "constructor",
  "prototype",
  "toString",
  "hasOwnProperty",
  "length",
  "type",
  "kind",
  "schema",
  "then",
  "toJSON",
  "0",
];

/**
 * Makes a broken JSON text out of a good one: nodes replaced, removed or added by name, or the text cut, flipped and spliced.
 *
 * @param {ReturnType<import("./caseRandom.mjs").caseRandom>} random
 * @param {readonly string[]} corpus - good JSON texts
 * @returns {string}
 */
export function mutateJson(random, corpus) {
  let text = random.pick(corpus);
  if (random.next() < 0.7) text = mutateNodes(text, random);
  if (random.next() < 0.45) text = random.pick(textChanges)(text, random, corpus);
  return text;
}

/** One to three nodes changed; what the text says stays JSON, `__proto__` as a plain name included. */
export function mutateNodes(text, random) {
  let changed = text;
  const changes = 1 + random.below(3);
  for (let i = 0; i < changes; i++) {
    let value;
    try {
      value = JSON.parse(changed);
    } catch {
      return changed;
    }
    changed = JSON.stringify(changeOne(value, random)) ?? changed;
  }
  // JSON.parse keeps a "__proto__" of the text as an own property; an object literal would not.
  return random.next() < 0.1 ? changed.replace(/"(\w+)":/, `"${random.pick(names)}":`) : changed;
}

/** Changes one node of plain data in place, chosen by walking down a random way; returns the root. */
export function changeOne(root, random) {
  const places = [];
  let node = root;
  while (typeof node === "object" && node !== null) {
    const keys = Object.keys(node);
    if (keys.length === 0) break;
    const key = random.pick(keys);
    places.push([node, key]);
    node = node[key];
  }
  if (places.length === 0) return random.pick(nodes);
  const [holder, key] = random.pick(places);
  const kind = random.below(10);
  if (kind < 5) holder[key] = structuredClone(random.pick(nodes));
  else if (kind === 5) {
    if (Array.isArray(holder)) holder.splice(Number(key), 1);
    else delete holder[key];
  } else if (kind === 6) holder[key] = structuredClone(random.pick(places)[0]);
  else if (kind === 7) holder[key] = random.pick(hostileCells);
  else if (kind === 8 && typeof holder[key] === "number") holder[key] *= random.pick([-1, 0, 1e-9, 1e9, 2, 1e150]);
  else if (Array.isArray(holder)) holder.push(structuredClone(random.pick(nodes)));
  else
    Object.defineProperty(holder, random.pick(names), {
      value: structuredClone(random.pick(nodes)),
      enumerable: true,
      configurable: true,
      writable: true,
    });
  return root;
}

const textChanges = [
  (text, random) => text.slice(0, random.below(text.length + 1)),
  (text, random) => {
    const at = random.below(text.length + 1);
    return text.slice(0, at) + random.pick(hostilePieces) + text.slice(at + random.below(4));
  },
  (text, random) => {
    const from = random.below(text.length + 1);
    return text.slice(0, from) + text.slice(from + random.below(40));
  },
  (text, random, corpus) => text.slice(0, random.below(text.length + 1)) + random.pick(corpus),
  (text) => `\ufeff${text}`,
  (text) => `[${text}]`,
  (text, random) =>
    text.replace(/-?\d+(\.\d+)?/, random.pick(["NaN", "1e999", "-1e999", "1e400", "01", "+1", "0x1", "9".repeat(400)])),
  (text, random) => text.replace(/-?\d+(\.\d+)?/, "[".repeat(1 + random.below(30)) + "]".repeat(1 + random.below(30))),
  (text, random) => {
    const depth = random.pick([10, 1000, 20_000]);
    return text.replace(/-?\d+(\.\d+)?/, "[".repeat(depth) + "]".repeat(depth));
  },
  (text, random) => {
    const depth = random.pick([10, 1000, 20_000]);
    return text.replace(/:\s*("[^"]*"|\d+)/, `: ${'{"a":'.repeat(depth)}1${"}".repeat(depth)}`);
  },
];
