/** Options of one command taken out of its arguments; the rest is read as for `analyze`. */
export interface OwnOptions {
  readonly values: ReadonlyMap<string, string>;
  readonly switches: ReadonlySet<string>;
  readonly rest: readonly string[];
  readonly problems: readonly string[];
}

/**
 * Splits off `--name value`, `--name=value` and `--name`.
 *
 * @param valued - names of options with a value
 * @param plain - names of switches
 */
export function ownOptions(argv: readonly string[], valued: readonly string[], plain: readonly string[]): OwnOptions {
  const values = new Map<string, string>();
  const switches = new Set<string>();
  const rest: string[] = [];
  const problems: string[] = [];
  for (let i = 0; i < argv.length; i++) {
    const word = argv[i];
    const at = word.indexOf("=");
    const name = word.startsWith("--") ? word.slice(2, at === -1 ? undefined : at) : "";
    if (plain.includes(name) && at === -1) switches.add(name);
    else if (valued.includes(name)) {
      const next = at === -1 ? argv[i + 1] : word.slice(at + 1);
      if (at === -1) i += 1;
      if (next === undefined || next === "" || (at === -1 && next.startsWith("--"))) {
        problems.push(`--${name} needs a value`);
        if (at === -1 && next?.startsWith("--")) i -= 1;
      } else if (values.has(name)) problems.push(`--${name} is given twice`);
      else values.set(name, next);
    } else rest.push(word);
  }
  return { values, switches, rest, problems };
}
