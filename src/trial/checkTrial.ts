import type { Trial } from "./trial.ts";
export interface TrialCheck {
  readonly schema: string;
}
export function checkTrial(_t: Trial): TrialCheck {
  return { schema: "stub" };
}
