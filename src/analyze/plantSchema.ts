import { choice, count, list, number, object, orNull, pair, ref, type Schema, text } from "./schemaParts.ts";

const slope = orNull(number("d ln(trait) / d ln(density)."));
const component = choice("Ear component.", ["earsPerPlant", "rowsPerEar", "kernelsPerRow", "kernelMass"]);
const share = { minimum: 0, maximum: 1 } as const;

const shapeNames = ["density", "densitySquared", "nitrogen", "nitrogenSquared", "densityNitrogen"];

/** Definitions of ear components and crowding responses, by name. */
export const plantDefinitions: Schema = {
  crowdingReading: object("What yield and trait do as density rises.", {
    yield: choice("Yield per area.", ["gains", "holds", "loses"]),
    trait: choice("The trait.", ["grows", "holds", "shrinks"]),
    words: text("Both in words."),
  }),
  crowdingResponse: object("How strongly a plant trait responds to crowding.", {
    schema: { const: "standcurve/crowding-response/1" },
    level: number("Confidence level."),
    hybrids: list(
      "Most sensitive first.",
      object("One hybrid.", {
        hybrid: text("Hybrid."),
        status: choice("How it ended.", ["converged", "not-estimable"]),
        slope,
        standardError: orNull(number("Its error.")),
        interval: orNull(ref("interval")),
        pValue: orNull(number("Two-sided, against no change.", share)),
        percentPerTenth: orNull(number("Change of the trait, percent, for 10 % more plants.")),
        yield: orNull(
          object("The same plots' yield.", {
            slope: number("d ln(yield) / d ln(density)."),
            interval: orNull(ref("interval")),
            flexScore: number("100 (1 - slope)."),
          }),
        ),
        reading: orNull(ref("crowdingReading")),
        nobs: count("Plots."),
        dofResidual: count("Residual degrees of freedom."),
      }),
    ),
    differences: list(
      "All pairs, intervals widened for their number.",
      object("One pair.", {
        first: text("Hybrid."),
        second: text("Hybrid."),
        difference: number("Slope of first - slope of second."),
        interval: ref("interval"),
        pValue: orNull(number("Two-sided.", share)),
      }),
    ),
  }),
  earComponents: object("Exact split of the flex score over ear components.", {
    schema: { const: "standcurve/ear-components/1" },
    level: number("Confidence level."),
    hybrids: list(
      "Each hybrid.",
      object("One hybrid.", {
        hybrid: text("Hybrid."),
        status: choice("How it ended.", ["converged", "not-estimable"]),
        nobs: count("Plots."),
        dofResidual: count("Residual degrees of freedom."),
        densities: list(
          "Means by density.",
          object("One density.", {
            density: number("Density."),
            plots: count("Plots."),
            earsPerPlant: number("Ears per plant."),
            rowsPerEar: number("Rows per ear."),
            kernelsPerRow: number("Kernels per row."),
            kernelMass: number("mg."),
            grainPerPlant: number("From the components, g."),
            barrenAtLeast: number("Share of plants without an ear, at least.", share),
          }),
        ),
        parts: list(
          "Ears, rows, kernels per row, kernel mass; empty when not estimable.",
          object("One component.", {
            component,
            meaning: choice("What it stands for.", ["prolificacy", "girth", "length", "depth"]),
            slope: number("d ln(component) / d ln(density)."),
            standardError: orNull(number("Its error.")),
            interval: orNull(ref("interval")),
            jointInterval: orNull(ref("interval")),
            points: number("-100 x slope: points of the flex score of the log-log line."),
            share: orNull(number("Share of the whole response.")),
            shareInterval: orNull(ref("interval")),
            pointsOfGiven: orNull(number("Points of the fitted curve's flex score, in the same proportion.")),
          }),
        ),
        total: orNull(
          object("Slope of ln(grain per plant): the exact sum of the parts.", {
            slope: number("d ln(grain per plant) / d ln(density)."),
            interval: orNull(ref("interval")),
          }),
        ),
        flexScore: orNull(number("-100 x the total slope.")),
        closure: orNull(
          object("Agreement with weighed yield.", {
            plots: count("Plots."),
            ratio: number("Geometric mean of component yield / weighed yield."),
            slope: orNull(number("Slope of the log ratio on log density.")),
            interval: orNull(ref("interval")),
          }),
        ),
        sampling: object("How many samples a mean needs.", {
          precision: number("Half width of a 95 % interval as a share."),
          components: list(
            "Each component.",
            object("One.", {
              component,
              cvPercent: orNull(number("Scatter between samples of one density, percent.")),
              samples: orNull(count("Samples that give the precision.")),
            }),
          ),
          advice: list("How to sample.", { type: "string" }),
        }),
      }),
    ),
    notes: list("What to know.", { type: "string" }),
  }),
  nitrogenSurface: object("Yield over density x and nitrogen n: a + b1 x + b2 x^2 + c1 n + c2 n^2 + d x n.", {
    schema: { const: "standcurve/nitrogen-surface/1" },
    coefficients: object(
      "Estimates, for the average block.",
      Object.fromEntries(["intercept", ...shapeNames].map((name) => [name, number("Estimate.")])),
    ),
    vcov: orNull(list(`Covariance of ${shapeNames.join(", ")}.`, list("Row.", { type: "number" }))),
    sigma: orNull(number("Residual standard deviation.")),
    dofResidual: count("Residual degrees of freedom."),
    nobs: count("Plots."),
    densityRange: pair("Densities tested."),
    nitrogenRange: pair("Nitrogen rates tested."),
    interaction: orNull(object("Test of the product x n.", { t: number("t."), pValue: number("Two-sided.", share) })),
  }),
  plantResponse: object("Why yield responds to density: ears and plants under crowding.", {
    ears: orNull(ref("earComponents")),
    earsReason: orNull(text("Why there is no split of the ears.")),
    traits: list(
      "Each trait column.",
      object("One trait.", { trait: text("Column."), response: ref("crowdingResponse") }),
    ),
    sideBySide: list(
      "Flex of yield and crowding response, a row for each trait and hybrid.",
      object("One row.", {
        hybrid: text("Hybrid."),
        trait: text("Column."),
        plots: count("Plots with both."),
        flexScore: orNull(number("Of the fitted curve between the common densities.")),
        yieldSlope: orNull(number("d ln(yield) / d ln(density) on these plots.")),
        yieldInterval: orNull(ref("interval")),
        traitSlope: slope,
        traitInterval: orNull(ref("interval")),
        percentPerTenth: orNull(number("Change of the trait, percent, for 10 % more plants.")),
        reading: orNull(ref("crowdingReading")),
      }),
    ),
    notes: list("What was done.", { type: "string" }),
  }),
};
