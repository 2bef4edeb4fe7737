import { choice, count, list, number, object, orNull, pair, ref, type Schema, text } from "./schemaParts.ts";

const place = choice("Inside the tested range, or at one of its ends (there or beyond).", [
  "interior",
  "lower-edge",
  "upper-edge",
]);
const target = choice("Which optimum: economic with prices.", ["agronomic", "economic"]);
const curve = choice("Family of the curves.", ["linear", "quadratic"]);
const share = { minimum: 0, maximum: 1 };
const report = ref("mixedOptimum");
const numbers = (description: string): Schema => list(description, { type: "number" });
const orWithheld = (schema: Schema): Schema => ({ oneOf: [schema, ref("withheld")] });
const notes = list("What a reader should know.", { type: "string" });
const observedLevels = pair("Expected levels of the environments seen at the reference density, lowest and highest.");
const byPart = (description: string, more: Schema = {}): Schema =>
  object(description, {
    intercept: number("Level at the centre of the tested range.", more),
    slope: number("Slope there.", more),
    curvature: number("Curvature.", more),
  });

/** Parts of the schema that speak of many environments and many hybrids. */
export const mixedDefinitions: Schema = {
  withheld: object("A part that these data do not allow.", { kind: { const: "withheld" }, reason: text("Why.") }),
  mixedOptimum: object("Best density of an expected curve.", {
    kind: place,
    density: number("Best tested density."),
    yield: number("Expected yield there."),
    yieldStandardError: number("Its standard error.", { minimum: 0 }),
    axes: ref("onAxes"),
    interval: orNull(ref("interval")),
    intervalAxes: object("Ends of the interval on both axes.", { lower: ref("onAxes"), upper: ref("onAxes") }),
  }),
  flexAnswer: object("Flex score of an expected curve.", {
    between: pair("Reference densities."),
    score: orNull(number("Flex score; null when it does not exist.")),
    standardError: orNull(number("Its standard error.")),
    interval: orNull(ref("interval")),
    reason: orNull(text("Why there is no score.")),
  }),
  effectTest: object("Test of one effect.", {
    source: text("The effect."),
    f: orNull(number("F; null for a likelihood-ratio test, or without error degrees of freedom.")),
    df1: number("Numerator degrees of freedom."),
    df2: orNull(number("Denominator degrees of freedom.")),
    p: orNull(number("p-value.", share)),
    against: text("What it was tested against."),
  }),
  adjustedDifference: object("first - second.", {
    first: text("Hybrid."),
    second: text("Hybrid."),
    difference: number("Difference."),
    standardError: orNull(number("Its standard error; null where the quantity sits on an end of the tested range.")),
    interval: orNull(ref("interval")),
    p: orNull(number("p-value of the pair by itself.", share)),
    adjustedP: orNull(number("p-value among all pairs.", share)),
  }),
  goal: {
    description: "The response in fields of one yield level.",
    oneOf: [
      object("Estimated.", {
        kind: { const: "estimated" },
        yieldGoal: number("Yield goal."),
        referenceDensity: number("Density at which the goal is meant."),
        extrapolated: { type: "boolean", description: "The goal lies outside the levels seen." },
        observedLevels,
        curve: list(
          "Expected yield over the tested range.",
          object("One point.", {
            density: number("Density."),
            yield: number("Expected yield."),
            standardError: number("Its standard error."),
          }),
        ),
        slopePerYield: orNull(number("Change of the slope with one more unit of yield level; null when none.")),
        agronomic: report,
        economic: orNull(report),
        flex: orNull(ref("flexAnswer")),
        notes,
      }),
      object("Refused.", {
        kind: { const: "refused" },
        yieldGoal: number("Yield goal."),
        reason: text("Why."),
        observedLevels: orNull(observedLevels),
      }),
    ],
  },
  acrossEnvironments: object("What a hybrid's environments say together.", {
    environments: count("Environments."),
    treatment: choice("Random: a sample of those to come; fixed: too few for that; single: one environment.", [
      "random",
      "fixed",
      "single",
    ]),
    reason: text("Why."),
    response: orWithheld(ref("environmentResponse")),
    yieldGoal: orNull(ref("goal")),
    goalLevels: list(
      "With a yield goal: the response at round yield levels of the fields seen and at that goal, by rising level.",
      object("One level.", {
        yieldGoal: number("Yield level at the reference density."),
        extrapolated: { type: "boolean", description: "It lies outside the levels seen." },
        curve: list(
          "Expected yield over the tested range.",
          object("One point.", { density: number("Density."), yield: number("Expected yield.") }),
        ),
        agronomic: report,
        economic: orNull(report),
      }),
    ),
  }),
  environmentResponse: object("The response in the average environment, and how it varies.", {
    kind: { const: "estimated" },
    curve,
    nobs: count("Plots."),
    status: choice("How the fit ended.", ["converged", "reduced", "singular", "iteration-limit"]),
    statusWords: text("The same in plain words."),
    path: list(
      "From the model asked for to the one kept.",
      object("One model.", {
        random: text("What varies at random."),
        logLikelihood: number("Restricted log-likelihood."),
        outcome: text("Why it was left, or that it was kept."),
      }),
    ),
    logLikelihood: number("Restricted log-likelihood."),
    coefficients: list(
      "Average curve, in powers of the density.",
      object("One coefficient.", {
        name: text("Its name."),
        estimate: number("Estimate."),
        standardError: number("Standard error."),
        dof: orNull(number("Degrees of freedom.")),
      }),
    ),
    varianceComponents: list(
      "Variances and covariances on the scale z.",
      object("One.", {
        term: text("Which units vary."),
        column: text("In what."),
        withColumn: orNull(text("Second part of a covariance; null for a variance.")),
        value: number("Variance or covariance."),
        sdOrCorrelation: orNull(number("Standard deviation, or correlation.")),
      }),
    ),
    scaling: object("z = (density - centre) / scale.", { centre: number("Density."), scale: number("Density.") }),
    agronomic: report,
    economic: orNull(report),
    flex: orNull(ref("flexAnswer")),
    newEnvironment: orWithheld(
      object("Expected yield of an environment not yet seen.", {
        kind: { const: "predicted" },
        yields: list(
          "At the optima.",
          object("One density.", {
            at: target,
            density: number("Density."),
            yield: number("Expected yield."),
            interval: ref("interval"),
            dof: number("Degrees of freedom."),
          }),
        ),
      }),
    ),
    referenceDensity: number("Density at which levels are compared."),
    observedLevels,
    goalLine: orNull(
      object(
        "Curves at all yield goals, density units: theta + step (goal - level), vcov + (goal - level)^2 stepVcov.",
        {
          family: choice("Family.", ["linear", "quadratic", "linear-plateau", "quadratic-plateau"]),
          level: number("Expected yield of the average environment at the reference density."),
          theta: numbers("Coefficients at that level."),
          step: numbers("Their change with one more unit of yield level."),
          vcov: list("Covariance at that level.", numbers("Row.")),
          stepVcov: list("Covariance of the step.", numbers("Row.")),
          dof: number("Degrees of freedom of the t distribution."),
          observedLevels,
          notes,
        },
      ),
    ),
    yieldClasses: orWithheld(
      object("Environments cut into classes by their level.", {
        kind: { const: "classes" },
        classes: list(
          "By rising level.",
          object("One class.", {
            label: text("low, middle, high."),
            environments: list("Its environments.", { type: "string" }),
            meanLevel: number("Their mean expected yield at the reference density."),
            agronomic: report,
            economic: orNull(report),
          }),
        ),
      }),
    ),
    notes,
  }),
  hybridsTogether: object("All hybrids and environments in one model.", {
    tests: orWithheld(
      object("What interacts.", {
        kind: { const: "tested" },
        method: choice("How.", ["analysis-of-variance", "mixed-model"]),
        design: orNull(
          choice("Layout recognised.", ["completely-randomised", "randomised-complete-block", "split-plot"]),
        ),
        evidence: text("How it was recognised, or why the mixed model is used."),
        missingPlots: count("Plots that the full crossing lacks."),
        cvPercent: orNull(number("Residual standard deviation / mean yield, percent.")),
        tests: list("Tests.", ref("effectTest")),
        polynomial: orNull(
          list(
            "Density means split into orthogonal polynomials.",
            object("One.", {
              contrast: text("Its name."),
              coefficients: orNull(list("By rising density.", { type: "number" })),
              df: number("Degrees of freedom."),
              ss: number("Sum of squares."),
              ms: number("Mean square."),
              f: orNull(number("F.")),
              p: orNull(number("p-value.", share)),
            }),
          ),
        ),
        notes,
      }),
    ),
    compared: orWithheld(
      object("Hybrids compared, adjusted for the number of comparisons.", {
        kind: { const: "compared" },
        curve,
        target,
        rankedBy: choice("What the best is best in.", ["yield", "return"]),
        hybrids: list(
          "By falling probability of being best.",
          object("One hybrid.", {
            hybrid: text("Name."),
            nobs: count("Plots."),
            optimum: report,
            flex: orNull(ref("flexAnswer")),
            probabilityBest: number("Share of draws in which it is the best.", share),
            meanRank: number("Mean rank, 1 the best."),
          }),
        ),
        optimumDifferences: list("By best density.", ref("adjustedDifference")),
        flexDifferences: list("By flex score.", ref("adjustedDifference")),
        yieldDifferences: list("By yield at the own optimum.", ref("adjustedDifference")),
        tests: list("Tests in the mixed model.", ref("effectTest")),
        draws: count("Draws behind the probabilities."),
        seed: count("Their seed."),
        notes,
      }),
    ),
    shrunken: orWithheld(
      object("Each hybrid's curve drawn towards the mean curve.", {
        kind: { const: "shrunken" },
        curve,
        target,
        spread: byPart("Standard deviation between hybrids, on the scale z.", { minimum: 0 }),
        hybrids: list(
          "Each hybrid.",
          object("One hybrid.", {
            hybrid: text("Name."),
            nobs: count("Plots."),
            environments: count("Environments."),
            raw: orNull(report),
            shrunken: report,
            moved: orNull(number("Shrunken - raw optimum.")),
            shrinkage: byPart("How far each part was drawn to the mean.", share),
          }),
        ),
        notes,
      }),
    ),
    stability: orWithheld(
      object("How yields follow the level of the environment.", {
        kind: { const: "slopes" },
        slopes: list(
          "Each hybrid.",
          object("One hybrid.", {
            hybrid: text("Name."),
            mean: number("Mean yield."),
            slope: number("Yield gained per unit of environment level; 1 is average."),
            standardError: orNull(number("Its standard error.")),
            lower: orNull(number("Lower end.")),
            upper: orNull(number("Upper end.")),
            p: orNull(number("p of slope = 1.", share)),
            deviation: orNull(number("Scatter about its own line, yield units.")),
            environments: count("Environments."),
          }),
        ),
        notes,
      }),
    ),
    fieldTrends: orWithheld(
      object("With and without allowance for the field.", {
        kind: { const: "trends" },
        trends: list(
          "Each hybrid in each environment with positions.",
          object("One.", {
            hybrid: text("Name."),
            environment: text("Name."),
            along: choice("What the positions are.", ["order", "row", "column", "column within row"]),
            target,
            outcome: orWithheld(
              object("Both analyses.", {
                kind: { const: "adjusted" },
                naive: report,
                adjusted: report,
                shift: number("Adjusted - naive optimum."),
                correlation: orNull(
                  object("Of neighbours one step apart.", {
                    rho: number("Correlation."),
                    nuggetShare: number("Share of independent error.", share),
                    p: number("p-value.", share),
                  }),
                ),
                confounding: number("Share of the response's information that the trend could take.", share),
                neighbourCorrelation: orNull(number("Lag-one correlation of the plain residuals.")),
                notes,
              }),
            ),
          }),
        ),
      }),
    ),
  }),
};
