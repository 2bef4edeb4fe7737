// Every kind of answer of the library, from the demo trials, as texts: the same module runs in Node, Deno and a browser.

export const demoFiles = [
  "plots.csv",
  "strips.csv",
  "standing.csv",
  "messy-semicolon.csv",
  "messy-cells.csv",
  "field.json",
  "zones.geojson",
];

const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 };
const families = [
  "flat",
  "linear",
  "quadratic",
  "linear-plateau",
  "quadratic-plateau",
  "exponential",
  "reciprocal",
  "parabolic-reciprocal",
  "mitscherlich",
];
const plots = {
  density: [18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43],
  yield: [173, 190, 199, 204, 197, 188, 178, 186, 203, 199, 201, 192, 170, 188, 196, 206, 195, 190],
  block: [1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 2, 3, 3, 3, 3, 3, 3],
};
const rising = { ...plots, yield: plots.yield.map((y, i) => 120 + (y - 120) * 0.3 + 1.9 * plots.density[i]) };

/**
 * @param {object} library - the public entry
 * @param {Record<string, string>} demo - text of each of `demoFiles`
 * @returns {[string, string][]} names and JSON texts
 */
export function everyResult(library, demo) {
  const found = [];
  const add = (name, answer) => found.push([name, JSON.stringify(answer)]);
  const read = (name) => library.readTrial(demo[name], name.startsWith("plots") ? { crop: "maize" } : {});

  const random = library.streamRandom(7, 3);
  add(
    "random normals",
    Array.from({ length: 20000 }, () => random.normal()),
  );

  const analyses = {};
  for (const name of demoFiles.slice(0, 5)) {
    const { trial, issues } = read(name);
    add(`reading of ${name}`, { trial, issues });
    if (trial === null) continue;
    const analysis = library.analyzeTrial(trial, { issues, resamples: 200, prices, between: [24, 36] });
    analyses[name] = analysis;
    add(`analysis of ${name}`, analysis);
    add(`report of ${name}`, [
      library.trialText(analysis),
      library.htmlPage(analysis, { currency: "$" }),
      library.tidyTables(analysis),
    ]);
    add(`check of ${name}`, library.checkTrial(trial));
  }

  const { field } = library.readField(demo["field.json"]);
  const options = { trial: read("plots.csv").trial, draws: 300 };
  add("recommendation", library.recommendRate(analyses["plots.csv"], field, options));
  add("steps", library.stepPlan(analyses["plots.csv"], field, options));
  const { zones } = library.readZones(demo["zones.geojson"]);
  add("zones", library.planZones(analyses["plots.csv"], zones, { ...options, field }));

  for (const family of families) {
    for (const [name, data] of Object.entries({ plots, rising })) {
      const { block, ...unblocked } = data;
      add(`fit of ${family} to ${name}`, [library.fitCurve(family, data), library.fitCurve(family, unblocked)]);
    }
  }
  add("comparison", library.compareCurves(plots));
  add("influence", library.influence(plots));
  add("diagnosis", library.diagnose(plots));
  add("envelope", [library.optimumInterval(plots), library.optimumInterval(rising)]);
  for (const scheme of ["residual", "wild", "case", "parametric", "cluster"])
    add(
      `bootstrap, ${scheme}`,
      attempt(() =>
        library.bootstrapCurves(plots, {
          resamples: 500,
          seed: 4,
          scheme,
          keep: true,
          priceRatio: 0.8,
          between: [20, 40],
        }),
      ),
    );
  for (const method of ["envelope", "profile", "bootstrap"])
    for (const quantity of [
      { kind: "gain", from: 23, to: 33 },
      { kind: "flex-score", between: [20, 40] },
      { kind: "agronomic-optimum" },
    ])
      add(
        `${quantity.kind} by ${method}`,
        attempt(() => library.quantityInterval(plots, quantity, { method, resamples: 300 })),
      );

  const many = read("plots.csv").trial;
  add(
    "variance table",
    attempt(() => library.varianceTable(many)),
  );
  add(
    "hybrids compared",
    attempt(() => library.compareHybrids(many, { draws: 500 })),
  );
  const mixed = attempt(() => library.fitMixedResponse(many, { df: "kenward-roger" }));
  add("mixed response", mixed);
  add(
    "response at a yield goal",
    attempt(() => library.responseAtYieldGoal(library.fitMixedResponse(many), { yieldGoal: 210, hybrid: "Amber 12" })),
  );

  const lodging = {
    density: [20, 25, 30, 35, 40, 45, 20, 25, 30, 35, 40, 45],
    lodged: [1, 2, 5, 9, 17, 30, 0, 3, 4, 12, 15, 33],
    examined: Array(12).fill(60),
  };
  for (const link of ["logit", "cloglog"]) {
    const fit = library.fitLodging(lodging, { link });
    add(`lodging, ${link}`, [
      fit,
      library.standabilityLimit(fit, { tolerated: 0.1, resamples: 200 }),
      library.standabilityFlags(fit, { tolerated: 0.1, resamples: 200 }),
    ]);
  }
  add(
    "broken line",
    library.fitBrokenLine({
      density: plots.density,
      trait: plots.density.map((x, i) => 22 - 0.25 * Math.max(x - 29, 0) + ((i * 7) % 5) / 10),
    }),
  );
  const prior = { optimum: [30, 36], lossBelow: { distance: 10, loss: [6, 10] }, bestYield: 200 };
  add(
    "densities",
    library.chooseDensities({ prior, steps: { from: 16, to: 46, step: 5 }, count: 5, sigma: 5, simulations: 300 }),
  );
  add(
    "power",
    library.trialPower({ densities: [18, 23, 28, 33, 38, 43], blocks: [4, 8], prior, sigma: 5, simulations: 100 }),
  );
  add("next", library.whatNext(analyses["plots.csv"], { hybrid: "Amber 12", simulations: 100 }));
  const plan = library.layoutTrial({
    hybrids: ["Amber 12"],
    rates: [18, 23, 28, 33, 38, 43],
    densityUnit: "1000 plants/ac",
    blocks: 4,
    seed: 3,
    plotLength: { value: 30, unit: "m" },
    plotWidth: { value: 6, unit: "m" },
  });
  add("layout", [plan, attempt(() => library.layoutGeoJson(plan, { a: [-93.6, 42.03], b: [-93.6004, 42.033] }))]);
  return found;
}

/** An answer, or the refusal: both must be the same everywhere. */
function attempt(work) {
  try {
    return work();
  } catch (error) {
    return { refused: String(error.message) };
  }
}
