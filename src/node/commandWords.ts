import type { Issue } from "../core/issue.ts";

const optionOf: Readonly<Record<string, string>> = {
  densityAxis: "axis",
  columns: "column ROLE=HEADER",
  units: "unit ROLE=UNIT",
};

/** Remedies speak of the library's schema; a person at the command line needs the option that does it. */
export function commandWords(text: string): string {
  return text
    .replace(/schema\.(columns|units)(?:, for example)? \{ ([^{}]*) \}/g, (_, kind: string, body: string) =>
      body
        .split(/,\s*(?=\w+:)/)
        .map((pair) => {
          const at = pair.indexOf(":");
          const value = pair.slice(at + 1).trim();
          const shown = value === "null" ? "" : /^"?…"?$/.test(value) ? (kind === "units" ? "UNIT" : "HEADER") : value;
          return `--${kind === "units" ? "unit" : "column"} ${pair.slice(0, at).trim()}=${shown}`;
        })
        .join(" "),
    )
    .replace(
      /schema\.ratings \{ "([^"]*)": \{ scale: \[([\d.]+), ([\d.]+)\], worst: ([\d.]+) \} \}/g,
      (_, header: string, low: string, high: string, worst: string) => `--rating "${header}=${low},${high},${worst}"`,
    )
    .replace(/schema\.(columns|units)\.(\w+)/g, (_, kind: string, role: string) => `--${kind.slice(0, -1)} ${role}=`)
    .replace(
      /schema\.(\w+)/g,
      (_, name: string) => `--${optionOf[name] ?? name.replace(/[A-Z]/g, (c) => `-${c.toLowerCase()}`)}`,
    )
    .replace(/\{ name, poundsPerBushel, standardMoisture \}/g, "NAME with --bushel-weight and --standard-moisture");
}

/** The same issues for a person at the command line. */
export function issuesForCommand(issues: readonly Issue[]): Issue[] {
  return issues.map((issue) => ({
    ...issue,
    rule: commandWords(issue.rule),
    remedy: commandWords(issue.remedy),
    message: commandWords(issue.message),
  }));
}
