const longest = 60;

/**
 * Any value as a short text for a message: at most 60 characters, whatever was given. Depth and cost are bounded, nothing of the
 * value is called, and no value makes it throw: `JSON.stringify` fails on deep or circular data, and a template literal on symbols
 * and on objects without a prototype.
 */
export function shown(value: unknown): string {
  const text = typeof value === "string" ? value.slice(0, longest + 1) : inner(value, 2);
  return text.length <= longest ? text : `${text.slice(0, longest - 1)}…`;
}

function inner(value: unknown, depth: number): string {
  if (value === null) return "null";
  if (typeof value === "string") return JSON.stringify(value.slice(0, longest));
  if (typeof value === "function") return "a function";
  if (typeof value === "bigint") return "a big integer";
  if (typeof value !== "object") return String(value);
  try {
    if (ArrayBuffer.isView(value)) return `${(value as { length?: number }).length ?? ""} numbers`.trim();
    if (Array.isArray(value)) {
      if (depth === 0) return "[…]";
      return `[${value
        .slice(0, 8)
        .map((one) => inner(one, depth - 1))
        .join(",")}${value.length > 8 ? ",…" : ""}]`;
    }
    if (depth === 0) return "{…}";
    const names = Object.keys(value);
    const pairs = names
      .slice(0, 8)
      .map((name) => `${JSON.stringify(name.slice(0, longest))}:${inner(own(value, name), depth - 1)}`);
    return `{${pairs.join(",")}${names.length > 8 ? ",…" : ""}}`;
  } catch {
    return "an object that cannot be read";
  }
}

/** The property as data; an accessor is not run. */
function own(value: object, name: string): unknown {
  const property = Object.getOwnPropertyDescriptor(value, name);
  return property !== undefined && "value" in property ? property.value : undefined;
}
