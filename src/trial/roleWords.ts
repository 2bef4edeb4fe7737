import type { Role } from "./roles.ts";

const spoken: ReadonlyMap<Role, string> = new Map<Role, string>([
  ["plot", "plot id"],
  ["standCount", "number of plants counted"],
  ["countLength", "counted row length"],
  ["countRows", "number of rows counted"],
  ["harvestRows", "number of rows harvested"],
  ["lodgedStalk", "stalk lodging"],
  ["lodgedRoot", "root lodging"],
  ["lodgedSnap", "green snap"],
  ["lodgedAny", "lodging"],
  ["examined", "number of plants examined"],
  ["examinedStalk", "number of plants examined for stalk lodging"],
  ["examinedRoot", "number of plants examined for root lodging"],
  ["examinedSnap", "number of plants examined for green snap"],
  ["failedPush", "number of stalks that failed the push test"],
  ["failedPinch", "number of stalks that failed the pinch test"],
  ["examinedPush", "number of plants pushed"],
  ["examinedPinch", "number of plants pinched"],
  ["daysAfterMaturity", "number of days after maturity"],
  ["positionRow", "field row"],
  ["positionColumn", "field column"],
  ["order", "strip order"],
]);

/** The name of a role as people say it: "seedingRate" gives "seeding rate". */
export function roleWords(role: Role): string {
  return spoken.get(role) ?? role.replace(/([A-Z])/g, (letter) => ` ${letter.toLowerCase()}`);
}

/** Up to twelve names in quotes, and how many more there are. */
export function listed(names: readonly string[]): string {
  const shown = names.slice(0, 12).map((name) => `"${name.length > 40 ? `${name.slice(0, 39)}…` : name}"`);
  return `${shown.join(", ")}${names.length > 12 ? ` and ${names.length - 12} more` : ""}`;
}
