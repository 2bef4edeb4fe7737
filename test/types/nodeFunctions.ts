/** Types of `standcurve/node`; compiled by .config/typeVersions.mjs with Node's own types, never run. */
import type { GroupExecutor } from "standcurve";
import {
  readTrialFile,
  type renderChart,
  type renderChartPng,
  runCommand,
  type threadExecutor,
  writeFilesAtomically,
} from "standcurve/node";
import type { Chart } from "standcurve/plot";
import { holds, type Same } from "./same.js";

holds<Same<ReturnType<typeof renderChart>, Promise<string>>>();
holds<Same<Parameters<typeof renderChart>, [chart: Chart]>>();
holds<Same<Awaited<ReturnType<typeof renderChartPng>>, Uint8Array>>();
holds<Same<ReturnType<typeof threadExecutor>, GroupExecutor>>();

export async function asProgram(folder: string): Promise<number> {
  const { trial, issues } = await readTrialFile("trial.csv", { crop: "maize" });
  await writeFilesAtomically(folder, { "issues.json": JSON.stringify(issues) });
  const code = await runCommand(["check", "trial.csv"], process);
  return trial === null ? 1 : code;
}
