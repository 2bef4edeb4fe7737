// A worker thread's program that dies on one hybrid: once, or every time when the marker file cannot be made.
import { existsSync, writeFileSync } from "node:fs";
import { parentPort } from "node:worker_threads";
import { serveGroups } from "../../dist/index.js";

const { DIES_ON, DIES_MARKER } = process.env;
serveGroups({
  postMessage: (message) => parentPort.postMessage(message),
  addEventListener: (_, listener) =>
    parentPort.on("message", (data) => {
      if (data.groups.some(({ hybrid }) => hybrid === DIES_ON) && !(DIES_MARKER && existsSync(DIES_MARKER))) {
        if (DIES_MARKER) writeFileSync(DIES_MARKER, "");
        process.exit(1);
      }
      listener({ data });
    }),
});
