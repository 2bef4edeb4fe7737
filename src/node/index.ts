export { readTrialFile } from "./readTrialFile.ts";
export { runCommand } from "./runCommand.ts";
export type { CommandStream, CommandStreams } from "./streams.ts";
export { writeFilesAtomically } from "./writeFilesAtomically.ts";
