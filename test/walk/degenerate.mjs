/** Plots that no trial should have and some do: name, data. */
export const degenerateData = [
  ["no plot", { density: [], yield: [] }],
  ["one plot", { density: [30], yield: [200] }],
  ["two plots", { density: [20, 30], yield: [200, 210] }],
  ["one density", { density: [30, 30, 30, 30], yield: [200, 201, 199, 203], block: [1, 1, 2, 2] }],
  [
    "all yields equal",
    { density: [20, 25, 30, 35, 20, 25, 30, 35], yield: Array(8).fill(200), block: [1, 1, 1, 1, 2, 2, 2, 2] },
  ],
  ["all zero", { density: [20, 25, 30, 35], yield: [0, 0, 0, 0] }],
  ["densities zero", { density: [0, 0, 0, 0], yield: [1, 2, 3, 4] }],
  ["negative yields", { density: [20, 25, 30, 35, 40], yield: [-200, -150, -140, -150, -170] }],
  ["a perfect curve", { density: [20, 25, 30, 35, 40], yield: [150, 175, 190, 195, 190] }],
  [
    "tiny numbers",
    { density: [1e-300, 2e-300, 3e-300, 4e-300, 5e-300], yield: [1e-300, 2e-300, 2.5e-300, 2.2e-300, 2e-300] },
  ],
  ["tiny densities", { density: [1e-300, 2e-300, 3e-300, 4e-300, 5e-300], yield: [150, 175, 191, 195, 190] }],
  ["huge numbers", { density: [1e300, 2e300, 3e300, 4e300, 5e300], yield: [1e300, 2e300, 2.5e300, 2.2e300, 2e300] }],
  ["huge densities", { density: [1e300, 2e300, 3e300, 4e300, 5e300], yield: [150, 175, 191, 195, 190] }],
  ["huge yields", { density: [20, 25, 30, 35, 40], yield: [1e300, 2e300, 2.5e300, 2.2e300, 2e300] }],
  ["from tiny to huge", { density: [1e-300, 1e-150, 1, 1e150, 1e300], yield: [1, 2, 3, 2, 1] }],
  [
    "yields on a great offset",
    { density: [20, 25, 30, 35, 40, 20, 25, 30, 35, 40], yield: [1, 3, 4, 4, 3, 2, 3, 5, 4, 3].map((y) => y + 1e9) },
  ],
  [
    "densities on a great offset",
    { density: [20, 25, 30, 35, 40].map((x) => x + 1e9), yield: [150, 175, 191, 195, 190] },
  ],
  ["ties", { density: [20, 20, 30, 30, 40, 40], yield: [150, 150, 190, 190, 170, 170] }],
  [
    "levels of one plot",
    {
      density: [20, 21, 22, 23, 24, 25, 26, 27],
      yield: [150, 156, 161, 158, 170, 169, 171, 166],
      block: [1, 2, 3, 4, 5, 6, 7, 8],
    },
  ],
  [
    "weights over 12 orders",
    { density: [20, 25, 30, 35, 40], yield: [150, 175, 191, 195, 190], weight: [1e-6, 1e6, 1, 1e-6, 1e6] },
  ],
  [
    "weights over 600 orders",
    { density: [20, 25, 30, 35, 40], yield: [150, 175, 191, 195, 190], weight: [1e-300, 1e300, 1, 1e-300, 1e300] },
  ],
  ["a spike", { density: [20, 25, 30, 35, 40], yield: [0, 0, 1e12, 0, 0] }],
];

/** What is made of the plots of one curve. */
export function curveWork(library, data) {
  const families = library.allFamilies.map((family) => [family, () => library.fitCurve(family, data)]);
  const few = { resamples: 20, seed: 1 };
  return [
    ...families,
    ...library.allFamilies.map((family) => [
      `${family}, its optima`,
      () => answersOf(library, library.fitCurve(family, data)),
    ]),
    ["compareCurves", () => library.compareCurves(data)],
    ["compareCurves, all", () => library.compareCurves(data, { families: library.allFamilies })],
    ["optimumInterval", () => library.optimumInterval(data, { simulations: 20 })],
    ["optimumInterval, profile", () => library.optimumInterval(data, { method: "profile", family: "quadratic" })],
    ["curveBand", () => library.curveBand(data, { points: 5 })],
    ["diagnose", () => library.diagnose(data)],
    ["influence", () => library.influence(data)],
    ["joinInterval", () => library.joinInterval(data, { family: "linear-plateau" })],
    ["bootstrap", () => library.bootstrapCurves(data, { ...few, keep: true, between: [22, 38], priceRatio: 0.5 })],
    ["gain", () => library.quantityInterval(data, { kind: "gain", from: 22, to: 38 })],
    ["optimum", () => library.quantityInterval(data, { kind: "agronomic-optimum" })],
    ["flex score", () => library.quantityInterval(data, { kind: "flex-score", between: [22, 38] })],
    ["mixed", () => library.fitMixedResponse({ ...data, environment: data.density.map((_, i) => i % 3) })],
    ["variance table", () => library.varianceTable(data)],
    ["broken line", () => library.fitBrokenLine({ density: data.density, trait: data.yield }, { simulations: 99 })],
    ["crowding", () => library.crowdingResponse({ density: data.density, trait: data.yield })],
    [
      "field trend",
      () => library.fieldTrend({ density: data.density, yield: data.yield, position: data.density.map((_, i) => i) }),
    ],
    ["nitrogen", () => library.fitNitrogenSurface({ density: data.density, nitrogen: data.yield, yield: data.yield })],
    [
      "stability",
      () =>
        library.stabilitySlopes({
          yield: data.yield,
          hybrid: data.density,
          environment: data.yield.map((_, i) => i % 3),
        }),
    ],
    ["ratings", () => library.fitRatings({ density: data.density, rating: data.yield })],
  ];
}

function answersOf(library, fit) {
  if (fit.status !== "converged") return null;
  const economics = { grainPrice: 4.5, seedCost: 3.75 };
  const attempt = (work) => {
    try {
      return work();
    } catch (error) {
      if (error?.name === "AnalysisError") return null;
      throw error;
    }
  };
  const [low, high] = fit.range;
  return [
    () => library.agronomicOptimum(fit),
    () => library.economicOptimum(fit, economics),
    () => library.flexScore(fit, { between: [low, high] }),
    () => library.predictCurve(fit, [low, high]),
    () => library.marginalYield(fit, [low, high]),
    () => library.priceSensitivity(fit, [1, 5], [2, 6]),
    () => library.returnCurve(fit, economics, [low, high]),
  ].map(attempt);
}
