import { AnalysisError } from "../core/errors.ts";

/** A part of the analysis that these data do not allow, and why. */
export interface Withheld {
  readonly kind: "withheld";
  readonly reason: string;
}

export function withheld(reason: string): Withheld {
  return { kind: "withheld", reason };
}

/** The answer, or the reason the library gives for having none. */
export function unlessRefused<T>(make: () => T): T | Withheld {
  try {
    return make();
  } catch (error) {
    if (error instanceof AnalysisError) return withheld(error.message);
    throw error;
  }
}
