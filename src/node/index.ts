export { readTrialFile } from "./readTrialFile.ts";
export { renderChart } from "./renderChart.ts";
export { type RenderPngOptions, renderChartPng } from "./renderChartPng.ts";
export { runCommand } from "./runCommand.ts";
export type { CommandStream, CommandStreams } from "./streams.ts";
export { threadExecutor } from "./threadExecutor.ts";
export { writeFilesAtomically } from "./writeFilesAtomically.ts";
