const mostCharacters = 50_000_000;
const deepest = 100;

/** JSON as data, or why it cannot be. */
export type ParsedJson =
  | { readonly kind: "value"; readonly value: unknown }
  | { readonly kind: "bad"; readonly reason: string };

/**
 * Parses JSON from strangers: a byte order mark is skipped, and texts longer than 50 million characters or nested deeper than 100 levels
 * are refused, since what walks over such data afterwards would run out of stack. Keys such as "__proto__" stay plain data.
 */
export function parseJson(text: string): ParsedJson {
  if (text.length > mostCharacters)
    return { kind: "bad", reason: `the text has ${text.length} characters; at most ${mostCharacters} are read` };
  const plain = text.charCodeAt(0) === 0xfeff ? text.slice(1) : text;
  if (isDeep(plain)) return { kind: "bad", reason: `it is nested deeper than ${deepest} levels` };
  try {
    return { kind: "value", value: JSON.parse(plain) };
  } catch (error) {
    return { kind: "bad", reason: error instanceof Error ? error.message : String(error) };
  }
}

function isDeep(text: string): boolean {
  let depth = 0;
  let inText = false;
  for (let i = 0; i < text.length; i++) {
    const character = text[i];
    if (inText && character === "\\") i += 1;
    else if (character === '"') inText = !inText;
    else if (!inText && (character === "[" || character === "{")) depth += 1;
    else if (!inText && (character === "]" || character === "}")) depth -= 1;
    if (depth > deepest) return true;
  }
  return false;
}
