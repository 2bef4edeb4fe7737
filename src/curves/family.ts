/** The response families. The first five are always compared; the others are fitted on request. */
export type Family =
  | "flat"
  | "linear"
  | "quadratic"
  | "linear-plateau"
  | "quadratic-plateau"
  | "exponential"
  | "reciprocal"
  | "parabolic-reciprocal"
  | "mitscherlich";

/** Families with an exact solution, compared by default. */
export type InnerFamily = "flat" | "linear" | "quadratic" | "linear-plateau" | "quadratic-plateau";

export const innerFamilies: readonly InnerFamily[] = [
  "flat",
  "linear",
  "quadratic",
  "linear-plateau",
  "quadratic-plateau",
];

export const allFamilies: readonly Family[] = [
  ...innerFamilies,
  "exponential",
  "reciprocal",
  "parabolic-reciprocal",
  "mitscherlich",
];

export function isInner(family: Family): family is InnerFamily {
  return (innerFamilies as readonly Family[]).includes(family);
}
