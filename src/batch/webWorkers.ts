import type { GroupExecutor } from "./executor.ts";
import type { WorkAnswer } from "./workerMessages.ts";
import { workerPool } from "./workerPool.ts";

/** The parts of a browser's `Worker` that are used. */
export interface WebWorkerLike {
  postMessage(message: unknown): void;
  addEventListener(type: "message", listener: (event: { readonly data: unknown }) => void): void;
  addEventListener(type: "error" | "messageerror", listener: (event: { readonly message?: string }) => void): void;
  terminate(): void;
}

/**
 * Executor of Web Workers (browsers, Deno).
 *
 * @param width - workers, such as `navigator.hardwareConcurrency`
 * @param create - makes a worker whose file says `serveGroups(self)`, for example
 *   `() => new Worker(new URL("./worker.js", import.meta.url), { type: "module" })`
 * @throws AnalysisError `invalid-option` when width is no whole number of 1 or more
 */
export function webWorkers(width: number, create: () => WebWorkerLike): GroupExecutor {
  return workerPool(width, () => {
    const worker = create();
    return {
      post: (message) => worker.postMessage(message),
      listen(onAnswer, onLost) {
        const lost = (event: { readonly message?: string }): void => {
          worker.terminate();
          onLost(event.message ?? "the worker stopped");
        };
        worker.addEventListener("message", ({ data }) => onAnswer(data as WorkAnswer));
        worker.addEventListener("error", lost);
        worker.addEventListener("messageerror", lost);
      },
      end: async () => worker.terminate(),
    };
  });
}
