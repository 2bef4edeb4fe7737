import type { TrialReading } from "../trial/readTrial.ts";
import type { ReadSchema } from "../trial/schema.ts";
import { readTrialBytes, readTrialFile } from "./readTrialFile.ts";
import type { CommandStreams } from "./streams.ts";

/** The trial named on the command line; "-" is the standard input. */
export async function inputReading(file: string, schema: ReadSchema, { stdin }: CommandStreams): Promise<TrialReading> {
  if (file !== "-") return readTrialFile(file, schema);
  const pieces: Uint8Array[] = [];
  for await (const piece of stdin ?? [])
    pieces.push(typeof piece === "string" ? new TextEncoder().encode(piece) : piece);
  return readTrialBytes(Buffer.concat(pieces), schema);
}
