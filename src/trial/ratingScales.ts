import { findHeader } from "./findHeader.ts";
import type { IssueLog } from "./issueLog.ts";
import { listed } from "./roleWords.ts";
import type { RatingDeclaration, Settings } from "./schema.ts";
import type { RatingScale } from "./trial.ts";

/** A scale at the end of a header: "lodging_rating_1_9_worst_9", "Stalk score (1-9, best 1)". */
const suffix =
  /[\s_([,;:]*(\d{1,3})\s*(?:-|–|_|\s|to|\.\.)\s*(\d{1,3})[\s_,;:]*(worst|best)[\s_:=]*(\d{1,3})\s*[\])]?\s*$/i;

/** Scale and direction that a header states, or null. */
export function ratingOfHeader(header: string): RatingDeclaration | null {
  const found = suffix.exec(header.slice(0, 200));
  if (found === null || found.index === 0) return null;
  const [first, second, named] = [Number(found[1]), Number(found[2]), Number(found[4])];
  const scale = [Math.min(first, second), Math.max(first, second)] as const;
  if (scale[0] === scale[1] || !scale.includes(named)) return null;
  const other = named === scale[0] ? scale[1] : scale[0];
  return { scale, worst: found[3]?.toLowerCase() === "worst" ? named : other };
}

/** Columns of ratings, by index: those of the schema, then those whose header states a scale. They take no other role. */
export function ratingColumns(
  header: readonly string[],
  settings: Settings,
  log: IssueLog,
): ReadonlyMap<number, RatingDeclaration> {
  const columns = new Map<number, RatingDeclaration>();
  header.forEach((text, index) => {
    const stated = ratingOfHeader(text);
    if (stated !== null) columns.set(index, stated);
  });
  for (const [name, declared] of Object.entries(settings.ratings ?? {})) {
    const index = findHeader(header, name);
    if (index === -1) {
      log.add({
        severity: "error",
        code: "column-not-found",
        received: name,
        rule: "schema.ratings must name headers of this file",
        remedy: `the headers are ${listed(header)}`,
      });
      continue;
    }
    const stated = columns.get(index);
    if (stated !== undefined && (stated.worst !== declared.worst || String(stated.scale) !== String(declared.scale))) {
      log.add({
        severity: "warning",
        code: "rating-conflict",
        column: header[index] ?? null,
        received: `${stated.scale.join(" to ")}, worst ${stated.worst}`,
        rule: `the header states another scale than schema.ratings (${declared.scale.join(" to ")}, worst ${declared.worst})`,
        remedy: "the schema was followed; correct whichever is wrong",
      });
    }
    columns.set(index, declared);
  }
  return columns;
}

/** Scales of the rating columns under the names that the traits carry. */
export function ratingScales(
  columns: ReadonlyMap<number, RatingDeclaration>,
  traits: readonly { readonly index: number; readonly name: string }[],
): RatingScale[] {
  return traits.flatMap(({ index, name }) => {
    const declared = columns.get(index);
    return declared === undefined ? [] : [{ name, scale: declared.scale, worst: declared.worst }];
  });
}

/** Ratings of lodging or stalks whose header says neither scale nor direction: they cannot be judged. */
export function reportUnknownRatings(
  traits: readonly { readonly index: number; readonly name: string }[],
  columns: ReadonlyMap<number, RatingDeclaration>,
  log: IssueLog,
): void {
  for (const { index, name } of traits) {
    if (
      columns.has(index) ||
      !/(lodg|stalk|stem|stand|root|snap).*(rating|score)|(rating|score).*(lodg|stalk|stem|stand|root|snap)/i.test(name)
    )
      continue;
    log.add({
      severity: "warning",
      code: "rating-scale",
      column: name,
      rule: "ratings are used only when their scale and its worst end are stated, because scales run both ways in practice",
      remedy: `write the header as "${name.slice(0, 40)}_1_9_worst_9", or declare schema.ratings { "${name.slice(0, 60)}": { scale: [1, 9], worst: 9 } }; it was kept as a trait`,
    });
  }
}
