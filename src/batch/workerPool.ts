import { checkShape } from "../core/checkShape.ts";
import { AnalysisError, check } from "../core/errors.ts";
import { shown } from "../core/shown.ts";
import { type GroupExecutor, WorkerLost } from "./executor.ts";
import type { GroupInput } from "./groupInput.ts";
import type { WorkAnswer, WorkRequest } from "./workerMessages.ts";

/** The outer end of a worker, whatever its kind. */
export interface WorkerPort {
  post(message: WorkRequest): void;
  /** Called once, before the first message. */
  listen(onAnswer: (answer: WorkAnswer) => void, onLost: (reason: string) => void): void;
  end(): Promise<void>;
}

interface Job {
  readonly request: WorkRequest;
  resolve(lines: readonly string[]): void;
  reject(error: Error): void;
}

/**
 * A pool of workers: started when first needed, one request at a time each, replaced when one dies.
 *
 * @param width - workers, integer >= 1
 * @param start - starts one
 */
export function workerPool(width: number, start: () => WorkerPort): GroupExecutor {
  check(
    Number.isInteger(width) && width >= 1,
    "invalid-option",
    `workers must be an integer >= 1, got ${shown(width)}`,
  );
  checkShape(start, "start", "function", "invalid-option");
  const idle: WorkerPort[] = [];
  const busy = new Map<WorkerPort, Job>();
  const waiting: Job[] = [];
  let next = 0;
  let closed = false;

  const drop = (port: WorkerPort, reason: string): void => {
    const job = busy.get(port);
    busy.delete(port);
    const at = idle.indexOf(port);
    if (at >= 0) idle.splice(at, 1);
    job?.reject(new WorkerLost(reason));
    if (!closed) pump();
  };
  const hire = (): WorkerPort => {
    const port = start();
    port.listen(
      (answer) => {
        const job = busy.get(port);
        if (job === undefined || job.request.id !== answer.id) return;
        busy.delete(port);
        idle.push(port);
        if ("lines" in answer) job.resolve(answer.lines);
        else if (answer.error.code !== null) job.reject(new AnalysisError(answer.error.code, answer.error.message));
        else job.reject(new WorkerLost(answer.error.message));
        pump();
      },
      (reason) => drop(port, reason),
    );
    return port;
  };
  const pump = (): void => {
    while (waiting.length > 0 && (idle.length > 0 || busy.size < width)) {
      const port = idle.pop() ?? hire();
      const job = waiting.shift() as Job;
      busy.set(port, job);
      try {
        port.post(job.request);
      } catch (error) {
        drop(port, error instanceof Error ? error.message : String(error));
      }
    }
  };
  return {
    width,
    run: (groups: readonly GroupInput[]) =>
      new Promise((resolve, reject) => {
        if (closed) return reject(new WorkerLost("the workers were ended"));
        waiting.push({ request: { id: next++, groups }, resolve, reject });
        pump();
      }),
    async close() {
      closed = true;
      const ports = [...idle, ...busy.keys()];
      for (const job of [...waiting, ...busy.values()]) job.reject(new WorkerLost("the workers were ended"));
      waiting.length = 0;
      busy.clear();
      await Promise.all(ports.map((port) => port.end()));
    },
  };
}
