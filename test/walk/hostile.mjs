/** Values that no argument should be: each stands for a kind of mistake, and none may bring down a public function. */
export const hostileValues = [
  ["undefined", undefined],
  ["null", null],
  ["NaN", Number.NaN],
  ["infinity", Number.POSITIVE_INFINITY],
  ["0", 0],
  ["-1", -1],
  ["0.5", 0.5],
  ["1e300", 1e300],
  ["1e-300", 1e-300],
  ["true", true],
  ["empty text", ""],
  ["text", "x"],
  ["__proto__", "__proto__"],
  ["empty list", []],
  ["list of null", [null]],
  ["list of NaN", [Number.NaN]],
  ["list of texts", ["x", "y"]],
  ["empty object", {}],
  ["object without prototype", Object.create(null)],
  ["object with own __proto__", JSON.parse('{"__proto__": {"polluted": 1}, "constructor": 1, "length": 2}')],
  ["length without elements", { length: 3 }],
  ["symbol", Symbol("s")],
  ["big integer", 1n],
  ["function", () => 1],
  ["date", new Date(0)],
];

/** A deep copy that keeps functions, symbols and prototypes of nothing. */
export function copy(value) {
  if (typeof value !== "object" || value === null) return value;
  if (Array.isArray(value)) return value.map(copy);
  if (ArrayBuffer.isView(value)) return value.slice();
  if (value instanceof Date || value instanceof Map || value instanceof Set) return value;
  const twin = Object.create(Object.getPrototypeOf(value) === null ? null : Object.prototype);
  for (const key of Reflect.ownKeys(value))
    Object.defineProperty(twin, key, {
      ...Object.getOwnPropertyDescriptor(value, key),
      ...("value" in Object.getOwnPropertyDescriptor(value, key) ? { value: copy(value[key]) } : {}),
    });
  return twin;
}

/** Path of the first number in a result that JSON cannot carry, or null; at most so many values are looked at. */
export function firstNotFinite(value, path = "result", seen = new Set()) {
  if (typeof value === "number") return Number.isFinite(value) ? null : `${path} is ${value}`;
  if (typeof value !== "object" || value === null || seen.has(value)) return null;
  seen.add(value);
  if (ArrayBuffer.isView(value)) {
    const at = Array.prototype.findIndex.call(value, (one) => !Number.isFinite(one));
    return at < 0 ? null : `${path}[${at}] is ${value[at]}`;
  }
  for (const key of Object.keys(value)) {
    const found = firstNotFinite(value[key], `${path}.${key}`, seen);
    if (found !== null) return found;
  }
  return null;
}

/**
 * Calls a function and judges what comes of it: null when it answers with plain numbers or throws an error of ours.
 *
 * @returns {Promise<string | null>}
 */
export async function judge(call) {
  try {
    let answer = await call();
    if (answer !== null && typeof answer === "object" && Symbol.asyncIterator in answer) {
      const all = [];
      for await (const one of answer) if (all.push(one) > 20) break;
      answer = all;
    }
    return firstNotFinite(answer);
  } catch (error) {
    return error?.name === "AnalysisError" || error?.name === "WorkerLost"
      ? null
      : String(error?.stack ?? error)
          .split("\n")
          .slice(0, 3)
          .join(" | ");
  }
}

/** Every call with one argument replaced by one hostile value. */
export function* wholeArguments(args) {
  for (let i = 0; i < args.length; i++)
    for (const [name, value] of hostileValues) {
      const changed = args.map(copy);
      changed[i] = copy(value);
      yield [`argument ${i + 1}: ${name}`, changed];
    }
}

/**
 * Every call with one property, down to a depth, replaced; of lists the first element and the last. Results of this package (a fit, an
 * analysis) are left as they are: what is inside them is checked where they are read, by `readAnalysis`.
 */
export function* properties(args, depth) {
  for (const path of paths(args, depth))
    for (const [name, value] of hostileValues) {
      const changed = args.map(copy);
      let holder = changed;
      for (const key of path.slice(0, -1)) holder = holder[key];
      holder[path.at(-1)] = copy(value);
      yield [`${path.join(".")}: ${name}`, changed];
    }
}

function* paths(value, depth, path = []) {
  if (path.length > 1) yield path;
  if (path.length > depth || typeof value !== "object" || value === null || isResult(value)) return;
  const keys = Array.isArray(value)
    ? [...new Set([0, value.length - 1])].filter((i) => i >= 0 && i < value.length)
    : Object.keys(value);
  const all = path.length === 0 ? value.map((_, i) => i) : keys;
  for (const key of all) yield* paths(value[key], depth, [...path, key]);
}

const isResult = ({ schema }) => typeof schema === "string" && schema.startsWith("standcurve/");
