#!/usr/bin/env node
import { runCommand } from "./runCommand.ts";

// A reader that has seen enough (`| head`) closes the pipe: that is no failure of ours.
for (const stream of [process.stdout, process.stderr]) {
  stream.on("error", (error: NodeJS.ErrnoException) => {
    if (error.code !== "EPIPE") process.exitCode = 1;
  });
}

process.exitCode = await runCommand(process.argv.slice(2), {
  stdout: process.stdout,
  stderr: process.stderr,
  stdin: process.stdin,
});
