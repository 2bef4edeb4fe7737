import { cellNumber } from "./cellNumber.ts";
import type { Column, ColumnMap } from "./columns.ts";
import { type NumberContext, readQuantity } from "./quantities.ts";
import type { Role } from "./roles.ts";
import type { RatingDeclaration } from "./schema.ts";
import type { Cell } from "./table.ts";
import type { StandMeasure, StandTrait } from "./trial.ts";

/** Traits of a row as [name, value] pairs. */
export type TraitPairs = readonly (readonly [string, number | string])[];

/** Roles that are traits all the same: checked as numbers, kept under their header. */
export const standRoles: readonly (readonly [Role, StandMeasure])[] = [
  ["stalkDiameter", "stalk-diameter"],
  ["rindStrength", "rind-strength"],
  ["plantHeight", "plant-height"],
  ["earHeight", "ear-height"],
  ["rootScore", "root-score"],
];

/** The stand traits of a file, in the order of its columns. */
export function standTraits(byRole: ReadonlyMap<Role, Column>): (StandTrait & { readonly column: Column })[] {
  return standRoles
    .flatMap(([role, measure]) => {
      const column = byRole.get(role);
      return column === undefined ? [] : [{ name: column.header, measure, unit: column.unit, column }];
    })
    .sort((a, b) => a.column.index - b.column.index);
}

// Shared by all plots that have none: files of millions of rows must not pay for empty objects.
const noTraits: TraitPairs = Object.freeze([]);

/** A reader of a row's traits. Ratings outside their scale and figures that cannot be are reported and left out. */
export function traitReader(
  { byRole, traits }: ColumnMap,
  ratings: ReadonlyMap<number, RatingDeclaration>,
  context: NumberContext,
): (cells: readonly Cell[], row: number) => TraitPairs {
  const stand = standTraits(byRole);
  if (traits.length === 0 && stand.length === 0) return () => noTraits;
  return (cells, row) => [
    ...stand.flatMap(({ name, column }) => {
      const { value } = readQuantity(cells[column.index] ?? "", column, row, context);
      return value === null ? [] : [[name, value] as const];
    }),
    ...traits.flatMap(({ index, name }) => {
      const declared = ratings.get(index);
      const cell = cells[index] ?? "";
      const value =
        declared === undefined ? traitValue(cell, context) : ratingValue(cell, name, declared, row, context);
      return value === null ? [] : [[name, value] as const];
    }),
  ];
}

function ratingValue(
  cell: Cell,
  name: string,
  { scale: [low, high] }: RatingDeclaration,
  row: number,
  { decimal, missing, log }: NumberContext,
): number | null {
  const parsed = cellNumber(cell, decimal, missing);
  if (parsed.kind === "missing") return null;
  if (parsed.kind === "number" && parsed.value >= low && parsed.value <= high) return parsed.value;
  const number = parsed.kind === "number";
  log.add({
    severity: "error",
    code: number ? "rating-outside-scale" : "not-a-number",
    row,
    column: name,
    received: cell,
    rule: number ? `a rating must lie on its scale, ${low} to ${high}` : "a rating must be a number",
    remedy: "correct the cell, or leave it empty if the plot was not rated; the rating was left out, the plot is kept",
  });
  return null;
}

function traitValue(cell: Cell, { decimal, missing }: NumberContext): number | string | null {
  const parsed = cellNumber(cell, decimal, missing);
  // Beyond 1e300 an average could overflow; such a cell is kept as the text it is.
  if (parsed.kind === "number" && Math.abs(parsed.value) < 1e300) return parsed.value;
  if (parsed.kind === "missing") return null;
  const text = String(cell).slice(0, 400).trim();
  return text.length > 200 ? `${text.slice(0, 199)}…` : text;
}
