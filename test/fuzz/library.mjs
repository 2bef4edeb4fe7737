/**
 * What the fuzz tries, from a folder of modules: `dist` for runs of a program, `src` for tests.
 *
 * @param {(path: string) => Promise<object>} load - imports a module by its path in the folder, without extension
 */
export async function fuzzLibrary(load) {
  const [bytes, delimiter, check, log, schema, reader, field, zones, analysis, text, tables, page, trial, analyze] =
    await Promise.all(
      [
        "node/readTrialFile",
        "trial/delimiter",
        "trial/checkTrial",
        "trial/issueLog",
        "trial/schema",
        "trial/tableReader",
        "recommend/readField",
        "recommend/readZones",
        "analyze/readAnalysis",
        "report/trialText",
        "report/tidyTables",
        "report/htmlPage",
        "trial/readTrial",
        "analyze/analyzeTrial",
      ].map(load),
    );
  return {
    ...bytes,
    ...delimiter,
    ...check,
    ...log,
    ...schema,
    ...reader,
    ...field,
    ...zones,
    ...analysis,
    ...text,
    ...tables,
    ...page,
    ...trial,
    ...analyze,
  };
}

/** Saved analyses of two small trials, as JSON. */
export function savedAnalyses({ readTrial, analyzeTrial }, texts) {
  const options = { resamples: 19, seed: 1, scrutiny: false, prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 } };
  return texts.map((text) => JSON.stringify(analyzeTrial(readTrial(text).trial, options)));
}
