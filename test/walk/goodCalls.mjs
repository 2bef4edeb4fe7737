// A good call of every public function, small enough to run in milliseconds. The walk changes these arguments.

const grid = [18, 24, 30, 36, 42];
const curve = (x) => 200 - 0.08 * (x - 31) ** 2;
const data = {
  density: [...grid, ...grid, ...grid],
  yield: [...grid, ...grid, ...grid].map((x, i) => curve(x) + ((7 * i) % 5) - 2 + 3 * Math.floor(i / 5)),
  block: Array.from({ length: 15 }, (_, i) => 1 + Math.floor(i / 5)),
};
const lodgingData = {
  density: [20, 25, 30, 35, 40, 45],
  lodged: [1, 2, 5, 9, 17, 30],
  examined: [60, 60, 60, 60, 60, 60],
};
const economics = { grainPrice: 4.5, seedCost: 3.75 };
const prior = { optimum: [30, 36], lossBelow: { distance: 10, loss: [6, 10] }, bestYield: 200 };
const group = {
  schema: "standcurve/group/1",
  hybrid: "A",
  environment: null,
  plots: { block: data.block, stand_k_ac: data.density, yield_bu_ac: data.yield },
  options: { resamples: 0 },
};
const svg = "<svg xmlns='http://www.w3.org/2000/svg' width='1' height='1'></svg>";

const trialText = [
  "site,year,block,hybrid,seeding_rate_k_ac,stand_k_ac,yield_bu_ac,stalk_lodged,plants_examined,order",
  ...["Northfield", "Southfield"].flatMap((site, s) =>
    [1, 2].flatMap((block) =>
      ["Amber 12", "Birch 7"].flatMap((hybrid, h) =>
        grid.map(
          (x, i) =>
            `${site},2031,${block},${hybrid},${x},${0.95 * x},${curve(x + 3 * h) + ((7 * i + 3 * block + s) % 5)},${i},50,${20 * block + 10 * h + i}`,
        ),
      ),
    ),
  ),
].join("\n");

/**
 * @param {object} m - the public entry
 * @param {object} plot - the entry of the charts
 * @returns {Record<string, unknown[] | null>} arguments by name; null: no function
 */
export function goodCalls(m, plot) {
  const { trial, issues } = m.readTrial(trialText);
  const analysis = m.analyzeTrial(trial, {
    resamples: 20,
    scrutiny: false,
    prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 },
  });
  const field = { hybrid: "Amber 12", presentRate: 34, acceptedStep: 2 };
  const few = { draws: 50, resamples: 99 };
  const fit = m.fitCurve("quadratic", data);
  const lodging = m.fitLodging(lodgingData);
  const mixedData = { ...data, yield: data.yield, environment: data.block.map((b) => `field ${b}`) };
  const six = ["a", "b", "c", "d", "e", "f"].flatMap((environment, e) =>
    grid.map((x) => ({ environment, x, best: 27 + e, top: 160 + 12 * e })),
  );
  const sixData = {
    density: six.map(({ x }) => x),
    yield: six.map(({ x, best, top }) => top - 0.05 * (x - best) ** 2 + ((7 * x + 11 * best) % 4)),
    environment: six.map(({ environment }) => environment),
  };
  const mixed = m.fitMixedResponse(sixData);
  const hybrids = { ...data, hybrid: data.density.map((_, i) => "ABC"[i % 3]) };
  const length = { plotLength: { value: 30, unit: "m" }, plotWidth: { value: 6, unit: "m" } };
  const layoutOptions = {
    hybrids: ["Amber 12"],
    rates: grid,
    densityUnit: "1000 plants/ac",
    blocks: 3,
    seed: 3,
    ...length,
  };
  const plan = m.layoutTrial(layoutOptions);
  const layoutCheck = m.checkLayout(plan);
  const choiceOptions = { prior, steps: { from: 16, to: 46, step: 5 }, count: 4, sigma: 5, simulations: 20 };
  const choice = m.chooseDensities(choiceOptions);
  const powerOptions = { densities: [grid], blocks: [3, 4], prior, sigma: 5, simulations: 20 };
  const power = m.trialPower(powerOptions);
  const nextOptions = { hybrid: "Amber 12", simulations: 10 };
  const next = m.whatNext(analysis, nextOptions);
  const zoneReading = m.readZones("zone,area_ac,yield_goal_bu_ac\nhill,20,170\nflat,60,200\n");
  const zonePlan = m.planZones(analysis, zoneReading.zones, { field, ...few });
  const recommendation = m.recommendRate(analysis, field, few);
  const steps = m.stepPlan(analysis, field, few);
  const bootOptions = { resamples: 20, seed: 1, between: [20, 40], keep: true };
  const boot = m.bootstrapCurves(data, bootOptions);
  const strip = {
    density: data.density,
    trait: data.density.map((x, i) => 24 - 0.1 * Math.max(0, x - 28) + (i % 3) / 10),
    block: data.block,
  };
  const broken = m.fitBrokenLine(strip, { simulations: 99 });
  const nitrogen = {
    density: grid.flatMap((x) => [x, x, x]),
    nitrogen: grid.flatMap(() => [60, 120, 180]),
    yield: grid.flatMap((x) => [60, 120, 180].map((n) => 4 * x - 0.09 * x * x + 0.012 * x * n + 0.1 * n)),
  };
  const surface = m.fitNitrogenSurface(nitrogen);
  const ears = [1, 2].flatMap((block) =>
    grid.map((density, i) => ({
      hybrid: "A",
      block,
      density,
      earsPerPlant: 1 + 0.05 * (20 / density - 0.5) + 0.01 * ((block * 7 + i) % 3),
      rowsPerEar: 16 - 0.03 * (density - 20) + 0.1 * ((block + i) % 2),
      kernelsPerRow: 38 - 0.45 * (density - 20) + 0.4 * ((block + 2 * i) % 3),
      kernelMass: 320 - 2 * (density - 20) + 2 * ((2 * block + i) % 3),
    })),
  );
  const components = m.earComponents(ears);
  const estimates = { linear: 6.4, quadratic: -0.1, varLinear: 0.04, covariance: -0.0006, varQuadratic: 0.00001 };
  const layoutPlots = plan.plots;
  const lodgingPlaces = {
    density: [20, 30, 40, 20, 30, 40, 20, 30, 40, 20, 30, 40],
    lodged: [1, 4, 9, 2, 5, 12, 0, 3, 15, 1, 6, 11],
    examined: Array(12).fill(60),
    environment: [1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4],
  };
  const ratings = { density: [20, 20, 30, 30, 40, 40, 20, 30, 40], rating: [1, 2, 3, 2, 4, 5, 1, 3, 5] };
  const dated = [{ date: "2031-09-12", lodging }];
  const goal = {
    yieldGoal: 200,
    extrapolated: false,
    agronomic: { kind: "interior", density: 30, yield: 200, interval: null },
    economic: null,
    curve: grid.map((density) => ({ density, yield: curve(density) })),
  };
  const square = {
    type: "Polygon",
    coordinates: [
      [
        [0, 0],
        [0.01, 0],
        [0.01, 0.01],
        [0, 0.01],
        [0, 0],
      ],
    ],
  };
  const of = { hybrid: "Amber 12", trial };

  return {
    AnalysisError: null,
    WorkerLost: null,
    agronomicOptimum: [fit, { nearBestShare: 0.01, step: 2 }],
    analyseStrata: [
      {
        yield: [3, 5, 4, 8, 9, 11],
        treatments: [{ name: "density", labels: [20, 30, 40, 20, 30, 40] }],
        blocks: [{ name: "block", labels: [1, 1, 1, 2, 2, 2] }],
        units: [],
      },
    ],
    analyzeGroup: [group],
    analyzeGroupText: [JSON.stringify(group)],
    analyzeMany: [[{ hybrid: "A", seeding_rate_k_ac: 20, yield_bu_ac: 200 }], {}],
    analyzeTrial: [
      trial,
      { resamples: 0, scrutiny: false, standability: false, mixedModels: false, level: 0.9, seed: 2, missBy: 2 },
    ],
    bootstrapCurves: [data, { ...bootOptions, priceRatio: 0.8, scheme: "residual" }],
    bootstrapStreamCount: [{ resamples: 20 }],
    bootstrapStreams: [data, bootOptions, 0, 1],
    checkLayout: [layoutPlots, {}],
    checkText: [m.checkTrial(trial), issues, {}],
    checkTrial: [trial],
    chooseDensities: [choiceOptions],
    clopperPearsonInterval: [3, 60, 0.95],
    combineEstimates: [
      [
        { label: "A", estimate: 30, standardError: 1 },
        { label: "B", estimate: 34, standardError: 1 },
      ],
      { level: 0.9 },
    ],
    compareCurves: [data, { families: ["flat", "linear", "quadratic"] }],
    compareHybrids: [{ ...hybrids, environment: mixedData.environment }, { draws: 100 }],
    compensationElasticity: [fit, 30],
    contrastPower: [{ contrast: [-3, -1, 1, 3], means: [180, 184, 188, 192], blocks: 4, sigma: 8, alpha: 0.05 }],
    convertDensity: [30, "1000 plants/ac", "plants/m2"],
    convertYield: [200, "bu/ac", "t/ha", { name: "maize", poundsPerBushel: 56, standardMoisture: 15.5 }],
    crowdingResponse: [
      { density: data.density, trait: strip.trait, block: data.block, yield: data.yield },
      { level: 0.9 },
    ],
    crowdingSlope: [{ density: data.density, trait: strip.trait, block: data.block }, { level: 0.9 }],
    csvText: [[{ a: 1, b: "x" }], ["a", "b"]],
    curveBand: [data, { points: 5, level: 0.9 }],
    curveRows: [data, fit],
    deltaInterval: [estimates, 0.2, 2.2],
    densitiesText: [choice, {}],
    densityFedBy: [surface, 120],
    densityLimits: [analysis, field, few],
    densityRows: [choice],
    diagnose: [data, { level: 0.95, resamples: 99 }],
    displayAnalysis: [analysis, {}],
    earComponents: [ears, {}],
    earCountYield: [{ ears: 35, rowsPerEar: 16, kernelsPerRow: 36, thousandKernelsPerUnit: 90 }],
    economicOptimum: [fit, economics],
    effectivePlants: [60, 0.1],
    fieldMap: [plan, plan.environments[0]],
    fieldTrend: [
      { density: data.density, yield: data.yield, position: data.density.map((_, i) => i + 1) },
      { level: 0.9 },
    ],
    fiellerSet: [estimates, 0.2, 2.2],
    findCrop: ["maize"],
    fitBrokenLine: [strip, { simulations: 99, level: 0.9, seed: 2 }],
    fitCurve: ["quadratic-plateau", data, { direction: "rising" }],
    fitLodging: [lodgingData, { link: "logit" }],
    fitLodgingEnvironments: [lodgingPlaces, {}],
    fitMixedResponse: [mixedData, { curve: "quadratic" }],
    fitNitrogenSurface: [nitrogen],
    fitRatings: [ratings, {}],
    flexScore: [fit, { between: [20, 40], extrapolate: false }],
    goalCurvesFrom: [mixed],
    goalCurvesOf: [trial],
    groupHead: [
      '{"schema":"standcurve/group-result/1","version":"1","hybrid":"A","environment":null,"status":"analysed","analysis":null}',
    ],
    harvestScenarios: [fit, dated, { lossShare: 0.5 }],
    harvestableOptimum: [{ gross: fit, lodging }, { lossShare: 0.5 }],
    htmlPage: [analysis, { title: "x" }],
    influence: [data, {}],
    issueText: [issues, { limit: 3 }],
    joinInterval: [data, { family: "quadratic-plateau", level: 0.9 }],
    layoutCheckText: [layoutCheck, {}],
    layoutCsv: [plan, {}],
    layoutGeoJson: [plan, { a: [-93.6, 42.03], b: [-93.6004, 42.033] }],
    layoutRows: [plan],
    layoutText: [plan, {}],
    layoutTrial: [layoutOptions],
    linearContrast: [grid],
    lodgingInteraction: [{ ...lodgingPlaces, group: lodgingPlaces.environment.map((e) => (e > 2 ? "B" : "A")) }, {}],
    marginalYield: [fit, grid],
    markdownPage: [analysis, {}],
    mergeBootstrap: [
      data,
      bootOptions,
      [m.bootstrapStreams(data, bootOptions, 0, m.bootstrapStreamCount(bootOptions))],
    ],
    mixedOptimum: [mixed, {}],
    nextRows: [next],
    optimumError: [grid, 4, { family: "quadratic", theta: [100, 6, -0.1] }, 5, 0.2],
    optimumInterval: [data, { level: 0.9 }],
    orthogonalPolynomials: [[20, 30, 40], [2, 2, 2], 2],
    pageCharts: [analysis, { trial, render: () => svg }],
    partialBudget: [{ addedSeed: 5, seedCost: 3.75, addedYield: 0.9, grainPrice: 5 }],
    planBudget: [grid, 4, 1, "1000 plants/ac", length],
    planZones: [analysis, zoneReading.zones, { field, ...few }],
    plotNoise: [{ cvPercent: 5, meanYield: 200 }, "bu/ac"],
    polygonArea: [square.coordinates],
    polynomialContrasts: [[20, 30, 40], [180, 190, 185], [4, 4, 4], 25, 9, 2],
    powerRows: [power],
    powerText: [power, {}],
    predictCurve: [fit, grid],
    predictLodging: [lodging, grid],
    predictResponse: [mixed, { density: grid, level: 0.9 }],
    priceRatio: [economics],
    priceSensitivity: [fit, [3, 4], [4, 5], {}],
    quantityInterval: [data, { kind: "gain", from: 24, to: 36 }, { level: 0.9 }],
    readAnalysis: [JSON.parse(JSON.stringify(analysis))],
    readField: [field],
    readTrial: [trialText, { crop: "maize" }],
    readZones: ["zone,area_ac\nhill,20\nflat,60\n"],
    recommendRate: [analysis, field, few],
    recommendText: [recommendation, {}],
    remlFit: [
      { y: [3, 5, 4, 8, 9, 11], x: [[1, 1, 1, 1, 1, 1]], random: [{ name: "field", group: [1, 1, 1, 2, 2, 2] }] },
      {},
    ],
    responseAtYieldGoal: [mixed, { yieldGoal: 190 }],
    responseByYieldClass: [mixed, {}],
    returnCurve: [fit, economics, grid],
    rowLengthForArea: [{ value: 0.001, unit: "ac" }, { value: 30, unit: "in" }, "ft"],
    runGroups: [[group], {}],
    seedingRateFor: [32000, 0.95, 0.95],
    serveGroups: [{ postMessage() {}, onmessage: null, addEventListener() {} }],
    shardOf: [{ hybrid: "A", environment: null }, 4],
    shrink: [1000, { moisture: 25.5, target: 15.5, perPoint: 1.183, handling: 0.5 }],
    shrinkHybridCurves: [{ ...hybrids, environment: mixedData.environment }, {}],
    stabilitySlopes: [
      { yield: sixData.yield, hybrid: six.map((_, i) => `H${i % 5}`), environment: sixData.environment },
      {},
    ],
    standabilityFlags: [lodging, { resamples: 99 }],
    standabilityLimit: [lodging, { tolerated: 0.1, resamples: 99 }],
    standardMoistureYield: [200, 20, 15.5],
    stepPlan: [analysis, field, few],
    stepPlanText: [steps, {}],
    streamRandom: [1, 2],
    stripsFor: [[30, 34], 6, 5, { power: 0.8 }],
    tidyTables: [analysis],
    trialPower: [powerOptions],
    trialText: [analysis, {}],
    upperBoundWhenNone: [60, 0.95],
    varianceTable: [{ ...data, environment: mixedData.environment }, {}],
    waterShrinkPerPoint: [15.5],
    webWorkers: [1, () => ({ postMessage() {}, terminate() {} })],
    whatNext: [analysis, nextOptions],
    whatNextText: [next, {}],
    wilsonInterval: [3, 60, 0.95],
    workerPool: [1, () => ({ run: async () => [], stop() {} })],
    zonePlanText: [zonePlan, {}],
    zonesCsv: [zonePlan, zoneReading.source],
    zonesGeoJson: [zonePlan, null],

    "plot.bootstrapChart": [boot, { hybrid: "A", range: [18, 42] }],
    "plot.chartTextWidth": [{ fontSize: 11 }, "text"],
    "plot.densitySetsChart": [choice, {}],
    "plot.displayChart": [plot?.optimaChart(analysis), {}],
    "plot.earComponentsChart": [components, {}],
    "plot.familiesChart": [analysis, of],
    "plot.fieldMapChart": [analysis, { trial, environment: "Northfield 2031" }],
    "plot.flexCurvesChart": [analysis, {}],
    "plot.flexScoresChart": [analysis, {}],
    "plot.layoutChart": [plan, {}],
    "plot.limitsChart": [recommendation, {}],
    "plot.lodgingChart": [lodging, { hybrid: "A" }],
    "plot.optimaChart": [analysis, {}],
    "plot.pictureHtml": [svg, "alt"],
    "plot.powerChart": [power, {}],
    "plot.residualChart": [analysis, of],
    "plot.responseChart": [analysis, of],
    "plot.returnChart": [analysis, of],
    "plot.stepPlanChart": [steps, {}],
    "plot.svgAddress": [svg],
    "plot.traitChart": [broken, strip, { hybrid: "A", trait: "Diameter" }],
    "plot.whatNextChart": [next, {}],
    "plot.yieldGoalChart": [[goal], { hybrid: "A" }],
    "plot.zoneMapChart": [
      {
        rateUnit: "1000 plants/ac",
        areaUnit: "ac",
        zones: [{ id: "hill", rate: 27.5, area: 22.4 }],
        uniform: { rate: 30.5 },
      },
      { features: [{ geometry: square }] },
      {},
    ],
  };
}
