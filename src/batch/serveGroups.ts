import { checkShape } from "../core/checkShape.ts";
import { AnalysisError } from "../core/errors.ts";
import { analyzeGroup } from "./analyzeGroup.ts";
import type { WorkAnswer, WorkRequest } from "./workerMessages.ts";

/** The inner end of a worker: `self` in a browser fits. */
export interface WorkerScope {
  postMessage(message: unknown): void;
  addEventListener(type: "message", listener: (event: { readonly data: unknown }) => void): void;
}

/**
 * Makes a worker answer: the whole program of a Web Worker's file is `serveGroups(self)`.
 */
export function serveGroups(scope: WorkerScope): void {
  checkShape(scope, "scope", { addEventListener: "function", postMessage: "function" }, "invalid-option");
  scope.addEventListener("message", ({ data }) => scope.postMessage(answer(data as WorkRequest)));
}

/** What a worker answers to a request. */
export function answer({ id, groups }: WorkRequest): WorkAnswer {
  try {
    return { id, lines: groups.map((group) => JSON.stringify(analyzeGroup(group))) };
  } catch (error) {
    const code = error instanceof AnalysisError ? error.code : null;
    return { id, error: { code, message: error instanceof Error ? error.message : String(error) } };
  }
}
