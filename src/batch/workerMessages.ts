import type { ErrorCode } from "../core/errors.ts";
import type { GroupInput } from "./groupInput.ts";

/** To a worker. */
export interface WorkRequest {
  readonly id: number;
  readonly groups: readonly GroupInput[];
}

/** From a worker: one line of JSON for each group, or why it cannot be done for any. */
export type WorkAnswer =
  | { readonly id: number; readonly lines: readonly string[] }
  | { readonly id: number; readonly error: { readonly code: ErrorCode | null; readonly message: string } };
