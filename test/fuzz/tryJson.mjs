import { firstNotFinite } from "./checkReading.mjs";

/** Runs a reader; a crash unless it answers or throws an error of ours with one of the codes. */
function attempt(codes, run) {
  try {
    return { answer: run() };
  } catch (error) {
    if (error?.name === "AnalysisError" && codes.includes(error.code)) return { refused: error };
    return { fault: { kind: "crash", text: String(error?.stack ?? error) } };
  }
}

const judged = (answer, nothing, found) => {
  if (nothing && !answer.issues.some(({ severity }) => severity === "error"))
    return { kind: "silent", text: `${found}: neither an answer nor an error` };
  const bad = firstNotFinite(answer, found);
  if (bad !== null) return { kind: "wrong", text: `${bad} is not finite` };
  return Object.prototype.polluted === undefined ? null : { kind: "wrong", text: "Object.prototype was changed" };
};

/** The text of a field. */
export function tryField(library, text) {
  const { fault, answer } = attempt([], () => library.readField(text));
  return fault ?? judged(answer, answer.field === null, "field");
}

/** The text of a zone table or of GeoJSON; every record of a table, every feature, is a zone when there are zones. */
export function tryZones(library, text) {
  const { fault, answer } = attempt([], () => library.readZones(text));
  if (fault) return fault;
  const { zones, source } = answer;
  const wanted = source?.kind === "geojson" ? source.collection.features.length : source?.rows.length;
  if (zones !== null && zones.length !== wanted) return { kind: "silent", text: `${zones.length} zones of ${wanted}` };
  return judged(answer, zones === null, "zones");
}

/** The text of a saved analysis: refused, or good enough for every text that is made of one. */
export function tryAnalysis(library, text) {
  const read = attempt(["invalid-data", "unreadable-source", "newer-version"], () => library.readAnalysis(text));
  if (read.fault) return read.fault;
  if (read.refused) return null;
  const uses = attempt(["invalid-data", "invalid-option", "not-estimable", "not-offered"], () => [
    library.trialText(read.answer),
    library.tidyTables(read.answer),
    library.htmlPage(read.answer),
  ]);
  if (uses.fault) return uses.fault;
  return uses.refused ? null : judged({ uses: uses.answer }, false, "analysis");
}
