import { availableParallelism } from "node:os";
import { Worker } from "node:worker_threads";
import type { GroupExecutor } from "../batch/executor.ts";
import { workerPool } from "../batch/workerPool.ts";

/** MB of young objects a thread may hold: the usual 48 buy nothing here, and every thread would keep them. */
const YOUNG = 16;

/**
 * Executor of worker threads. Close it, or the process does not end.
 *
 * @param workers - threads; default: one for each processor
 * @param program - the threads' program; default: the one beside this file
 * @throws AnalysisError `invalid-option` when workers is no whole number of 1 or more
 */
export function threadExecutor(
  workers: number = availableParallelism(),
  program: URL = new URL("./groupWorker.js", import.meta.url),
): GroupExecutor {
  return workerPool(workers, () => {
    const worker = new Worker(program, { resourceLimits: { maxYoungGenerationSizeMb: YOUNG } });
    return {
      post: (message) => worker.postMessage(message),
      listen(onAnswer, onLost) {
        let reason = "the thread stopped";
        worker.on("message", onAnswer);
        worker.on("error", (error) => {
          reason = error instanceof Error ? error.message : String(error);
        });
        worker.on("messageerror", (error) => {
          reason = error.message;
          void worker.terminate();
        });
        // After an error a thread always exits: one report for both.
        worker.on("exit", () => onLost(reason));
      },
      async end() {
        await worker.terminate();
      },
    };
  });
}
