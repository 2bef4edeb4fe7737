import { parentPort } from "node:worker_threads";
import { answer } from "../batch/serveGroups.ts";
import type { WorkRequest } from "../batch/workerMessages.ts";

// The program of a worker thread.
parentPort?.on("message", (request: WorkRequest) => parentPort?.postMessage(answer(request)));
