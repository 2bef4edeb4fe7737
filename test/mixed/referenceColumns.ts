import type { Row } from "./sharedData.ts";

/** A column as numbers, divided by a unit. */
export const num = (rows: readonly Row[], name: string, divide = 1): number[] =>
  rows.map((row) => Number(row[name]) / divide);

/** The labels of one column, or of several crossed. */
export const text = (rows: readonly Row[], ...names: string[]): string[] =>
  rows.map((row) => names.map((name) => row[name]).join(":"));

/** The column of the intercept. */
export const one = (rows: readonly Row[]): number[] => rows.map(() => 1);
