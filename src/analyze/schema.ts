import { allFamilies } from "../curves/family.ts";
import { densityUnits, yieldUnits } from "../trial/units.ts";
import { mixedDefinitions } from "./mixedSchema.ts";
import { plantDefinitions } from "./plantSchema.ts";
import {
  byName,
  choice,
  count,
  flag,
  list,
  number,
  object,
  orNull,
  pair,
  ref,
  type Schema,
  text,
} from "./schemaParts.ts";
import { scrutinyDefinitions } from "./scrutinySchema.ts";
import { standabilityDefinitions } from "./standabilitySchema.ts";

const family = choice("Response family.", allFamilies);
const edge = choice("Where the optimum lies: inside the tested range or at one of its ends (there or beyond).", [
  "interior",
  "lower-edge",
  "upper-edge",
]);
const optimumKind = choice("As above; none: the curve does not respond to density.", [
  "interior",
  "lower-edge",
  "upper-edge",
  "none",
]);
const densityUnit = choice("Unit of every density, as plants; on the seeding-rate axis read seeds.", densityUnits);
const axis = choice("What a density is: mean counted stand of its rate, each plot's own count, or the seeding rate.", [
  "mean-stand",
  "plot-stand",
  "seeding-rate",
]);

const intervalProperties: Schema = {
  lower: orNull(number("Lower end; null when open.")),
  upper: orNull(number("Upper end; null when open.")),
  lowerOpen: flag("The data do not bound the quantity from below."),
  upperOpen: flag("The data do not bound the quantity from above."),
  level: number("Confidence level.", { exclusiveMinimum: 0, exclusiveMaximum: 1 }),
  method: text("How it was made: envelope, profile, fieller, bootstrap-percentile."),
  pieces: list("Separate parts, ascending; absent when there is one.", ref("piece")),
};

const optimumProperties: Schema = {
  kind: optimumKind,
  density: orNull(number("Best tested density; null when kind is none.")),
  yield: number("Yield on the curve there."),
  nearBest: orNull(ref("nearBest")),
  outside: orNull(number("The curve's own turning point when outside the tested range; never advice.")),
  note: orNull(text("What a reader should know about this optimum.")),
  costOfMissing: orNull(
    object("Loss against the optimum at one step below and above; money for the economic one.", {
      step: number("Size of the miss, density unit."),
      below: orNull(number("Loss one step below; null outside the tested range.")),
      above: orNull(number("Loss one step above; null outside the tested range.")),
    }),
  ),
};

const optimumReport = (description: string, optimum: Schema): Schema =>
  object(description, {
    optimum,
    axes: ref("onAxes"),
    interval: ref("optimumInterval"),
    intervalAxes: object("Ends of the interval on both axes.", { lower: ref("onAxes"), upper: ref("onAxes") }),
    chosenFamilyInterval: orNull(ref("optimumInterval")),
    widthRatio: orNull(number("Width of the interval / width of the chosen family's own; null when either is open.")),
    bootstrap: orNull(ref("bootstrap")),
    averaged: orNull(ref("averagedOptimum")),
  });

const definitions: Schema = {
  ...standabilityDefinitions,
  ...scrutinyDefinitions,
  ...plantDefinitions,
  ...mixedDefinitions,
  piece: object("One part of a confidence set.", {
    lower: orNull(number("Null when open.")),
    upper: orNull(number("Null when open.")),
  }),
  interval: object("An interval; open ends are null with a flag.", intervalProperties, ["pieces"]),
  optimumInterval: object(
    "Interval of an optimum density.",
    {
      ...intervalProperties,
      target: choice("Which optimum.", ["agronomic", "economic"]),
      family: orNull(family),
      flatNotExcluded: flag("A curve without response is compatible with the data at this level."),
      reason: orNull(text("What an open end or a refusal means; null when both ends are bounded.")),
      cutoff: object("How far the residual sum of squares may exceed the least one; envelope and profile only.", {
        factor: number("Share of the least sum of squares that is allowed on top of it."),
        plain: number("F(level; 1, df) / df."),
        simulations: orNull(count("Simulations behind the factor; null when it is the plain one.")),
        seed: orNull(count("Their seed.")),
      }),
      warnings: list("Why the resampling may mislead here; bootstrap only.", { type: "string" }),
    },
    ["pieces", "cutoff", "warnings"],
  ),
  bootstrap: object(
    "What the replicates say; those at an end of the range are counted, none is dropped.",
    {
      interval: ref("interval"),
      median: orNull(number("Median of the replicates; null when it falls on an end.")),
      lowerError: orNull(number("Monte-Carlo standard error of the lower limit.")),
      upperError: orNull(number("Monte-Carlo standard error of the upper limit.")),
      count: object("Replicates by where they fell.", {
        inside: count("Inside the tested range."),
        lowerEdge: count("At the lowest tested density."),
        upperEdge: count("At the highest tested density."),
        missing: count("Without the quantity (no response, say)."),
      }),
      note: text("Why limits of this kind do not exist or are doubtful; only when there is something to say."),
    },
    ["note"],
  ),
  onAxes: object("A density on both axes; null where establishment is unknown.", {
    stand: orNull(number("Plants per area.")),
    seedingRate: orNull(number("Seeds per area.")),
  }),
  nearBest: object(
    "All densities within a stated loss of the best.",
    {
      loss: number("The stated loss: yield, or money per area."),
      lower: number("Lower end."),
      upper: number("Upper end."),
      lowerAtEdge: flag("The lower end is the lowest tested density."),
      upperAtEdge: flag("The upper end is the highest tested density."),
      pieces: list("Separate ranges; absent when there is one.", pair("From, to.")),
    },
    ["pieces"],
  ),
  optimum: object("Density of highest yield.", optimumProperties),
  economicOptimum: object("Best-paying density.", {
    ...optimumProperties,
    priceRatio: number("Yield that pays for one more plant."),
    seedingRate: orNull(number("Rate to set, seeds per area.")),
    return: number("Net price x yield - seed cost x rate, money per area."),
  }),
  agronomicReport: optimumReport("Density of highest yield and how far to trust it.", ref("optimum")),
  economicReport: optimumReport("Best-paying density and how far to trust it.", ref("economicOptimum")),
  averagedOptimum: object("Optimum of the curve averaged with Akaike weights.", {
    kind: edge,
    density: number("Density."),
    yield: number("Yield there."),
  }),
  curveFit: object(
    "One fitted curve.",
    {
      schema: { const: "standcurve/curve-fit/1" },
      family,
      status: choice("How the solver ended.", ["converged", "not-estimable", "singular", "iteration-limit"]),
      reason: orNull(text("Why there is no fit, or what the limit means.")),
      limit: orNull(
        choice("The simpler curve that the best fit of the family is.", [
          "join-not-identified",
          "join-beyond-range",
          "join-at-highest",
          "straight-line",
          "flat",
          "step",
        ]),
      ),
      coefficients: byName("Estimates by name; null where they do not exist.", { type: ["number", "null"] }),
      standardErrors: byName("Standard errors by name; null where they do not exist.", { type: ["number", "null"] }),
      vcov: orNull(list("Covariance matrix in the order of the coefficients.", list("Row.", { type: "number" }))),
      curve: orNull(
        object("The curve to draw.", { family, theta: list("Parameters of that family.", { type: "number" }) }),
      ),
      blockEffects: list(
        "Deviation of each block from the average block.",
        object("One block.", { block: text("Its label."), effect: number("Yield units.") }),
      ),
      nobs: count("Plots."),
      dof: count("Parameters of the mean, blocks included."),
      dofResidual: {
        type: "integer",
        description: "Residual degrees of freedom; negative with fewer plots than parameters.",
      },
      rss: orNull(number("Weighted residual sum of squares.")),
      sigma: orNull(number("Residual standard deviation.")),
      logLikelihood: orNull(number("Gaussian log-likelihood at the maximum.")),
      aic: orNull(number("Akaike's criterion.")),
      aicc: orNull(number("The same, corrected for few plots.")),
      bic: orNull(number("Schwarz's criterion.")),
      range: pair("Tested range of the density."),
      levels: count("Distinct densities."),
      localMinima: list(
        "Local minima of the join's sum of squares, best first.",
        object("One.", { join: number("Density."), rss: number("Sum of squares.") }),
      ),
    },
    ["localMinima"],
  ),
  lackOfFit: {
    description: "Whether a curve misses the density means by more than the plots' scatter.",
    oneOf: [
      object("Tested.", {
        kind: { const: "tested" },
        f: number("F.", { minimum: 0 }),
        dof: pair("Degrees of freedom of F."),
        p: number("Its p-value.", { minimum: 0, maximum: 1 }),
      }),
      object("Not testable.", { kind: { const: "untestable" }, reason: text("Why not.") }),
    ],
  },
  comparison: object("Families fitted and ranked by AICc.", {
    schema: { const: "standcurve/curve-comparison/1" },
    fits: list("One for each family.", ref("curveFit")),
    ranking: list(
      "In the order of fits.",
      object("One family's place.", {
        family,
        delta: orNull(number("AICc above the smallest.")),
        weight: number("Akaike weight.", { minimum: 0, maximum: 1 }),
        lackOfFit: ref("lackOfFit"),
        optimum: orNull(object("Where the family puts the optimum.", { kind: edge, density: number("Density.") })),
      }),
    ),
    best: orNull(family),
    tied: list("Families whose AICc equals the best.", family),
    pureError: object("Pure error of the layout.", {
      ss: number("Sum of squares."),
      dof: number("Degrees of freedom."),
    }),
    averaged: orNull(
      object("Curve averaged with Akaike weights.", {
        density: list("Grid over the tested range.", { type: "number" }),
        yield: list("Yield at each.", { type: "number" }),
        optimum: ref("averagedOptimum"),
      }),
    ),
    warnings: list(
      "What a reader must see.",
      object("One.", {
        code: choice("Stable code.", ["tie", "optimum-depends-on-family", "too-few-plots", "lack-of-fit"]),
        message: text("In words."),
      }),
    ),
  }),
  flexReport: object("How far plants make up for missing neighbours.", {
    flex: object("Flex score between the reference densities.", {
      score: orNull(number("100 (1 - ln(Y(x2) / Y(x1)) / ln(x2 / x1)); null when it does not exist.")),
      between: pair("Reference densities."),
      slope: orNull(number("Yield units per density unit between them.")),
      left: orNull(number("Score of the part below the curve's optimum.")),
      right: orNull(number("Score of the part above it.")),
      local: list(
        "Compensation elasticity at the ends and the log midpoint.",
        object("One.", { density: number("Density."), elasticity: number("1 - x Y'(x) / Y(x).") }),
      ),
      reason: orNull(text("Why there is no score.")),
    }),
    interval: orNull(
      object("Envelope of the score.", { ...intervalProperties, reason: orNull(text("What an open end means.")) }, [
        "pieces",
      ]),
    ),
    bootstrap: orNull(ref("bootstrap")),
    group: orNull(
      choice("Words for the score: conventions, not science.", [
        "needs plants",
        "partly makes up",
        "makes up",
        "crowds",
      ]),
    ),
  }),
  curveAnalysis: object("What one set of plots says about one hybrid.", {
    kind: { const: "analysed" },
    hybrid: text("Hybrid."),
    environment: orNull(text("Null: all environments together.")),
    plots: count("Plots used."),
    environments: count("Environments among them."),
    blocks: count("Blocks, those of different environments counted apart."),
    densities: list("Distinct densities, ascending.", { type: "number" }),
    meanYield: number("Mean of the plots."),
    cvPercent: orNull(number("Residual standard deviation / mean yield, percent.")),
    establishment: orNull(number("Stand / seeding rate.")),
    comparison: ref("comparison"),
    chosen: family,
    reason: text("Why that family."),
    agronomic: ref("agronomicReport"),
    economic: orNull(ref("economicReport")),
    flex: ref("flexReport"),
    marginal: list(
      "Yield gained by 1,000 more plants per area of the yield unit.",
      object("At one density.", { density: number("Density."), yieldPerThousand: number("Yield units.") }),
    ),
    sensitivity: list(
      "Best-paying density over seed costs and grain prices.",
      object("One combination.", {
        seedCost: number("Money per density unit."),
        grainPrice: number("Money per yield unit."),
        kind: optimumKind,
        density: orNull(number("Best-paying density.")),
        seedingRate: orNull(number("Its seeding rate.")),
        return: number("Money per area."),
      }),
    ),
    standability: orNull(ref("standability")),
    nitrogen: orNull(ref("nitrogenSurface")),
    scrutiny: orNull(ref("scrutiny")),
    seed: count("Start of this curve's random numbers."),
  }),
  noAnalysis: object("A curve that could not be analysed.", {
    kind: { const: "not-estimable" },
    hybrid: text("Hybrid."),
    environment: orNull(text("Null: all environments together.")),
    plots: count("Plots that could be used."),
    reason: text("Why not."),
    standability: orNull(ref("standability")),
  }),
  curveOrReason: { oneOf: [ref("curveAnalysis"), ref("noAnalysis")] },
  ability: object("Whether the design can carry something.", abilityProperties()),
  curveCheck: object("What the plots of one hybrid can carry.", {
    environment: orNull(text("Null: all environments together.")),
    plots: count("Plots with density and yield."),
    blocks: count("Blocks."),
    densities: count("Different densities."),
    lowest: orNull(number("Lowest density.")),
    highest: orNull(number("Highest density.")),
    leastReplicated: count("Fewest plots at one density."),
    mostReplicated: count("Most plots at one density."),
    balanced: flag("Every block holds every density of its environment equally often."),
    terms: choice("Terms x, x^2, x^3 that can be told apart inside blocks.", [0, 1, 2, 3]),
    pureErrorDof: count("Degrees of freedom of pure error."),
    families: list("Each family.", object("One.", { family, ...abilityProperties() })),
    lackOfFit: ref("ability"),
    blockEffect: ref("ability"),
    interval: ref("ability"),
  }),
  trialCheck: object("What the trial can tell, judged from its design alone.", {
    schema: { const: "standcurve/trial-check/1" },
    densityAxis: axis,
    densityUnit,
    plots: count("Plots not excluded."),
    excludedPlots: count("Plots excluded."),
    plotsWithoutYield: count("Plots not excluded that have no yield."),
    hybrids: list(
      "Each hybrid.",
      object("One hybrid.", {
        hybrid: text("Hybrid."),
        summary: text("One sentence."),
        pooled: ref("curveCheck"),
        environments: list("Each environment.", ref("curveCheck")),
        standability: list(
          "Each kind of lodging counted.",
          object("One kind.", {
            kind: ref("lodgingKind"),
            plots: count("Plots with a count and a density."),
            densities: count("Different densities among them."),
            lodged: orNull(number("Plants lodged.")),
            examined: orNull(number("Plants examined.")),
            limit: ref("ability"),
          }),
        ),
      }),
    ),
    commonRange: orNull(
      object("Densities every hybrid was grown at or between.", {
        lowest: number("From."),
        highest: number("To."),
      }),
    ),
    hybridByDensity: ref("ability"),
    environmentByDensity: ref("ability"),
    warnings: list(
      "What to be careful about.",
      object("One.", {
        code: choice("Stable code.", [
          "narrow-range",
          "few-densities",
          "few-blocks",
          "unbalanced",
          "confounded-with-block",
          "confounded-with-position",
          "ranges-do-not-overlap",
          "missing-in-environment",
          "rate-by-hybrid",
        ]),
        hybrid: orNull(text("Null: the whole trial.")),
        environment: orNull(text("Null: all.")),
        message: text("In words."),
      }),
    ),
  }),
  issue: object(
    "One problem found in the data.",
    {
      severity: choice("error: not used; warning: used, look at it; note: how it was read.", [
        "error",
        "warning",
        "note",
      ]),
      code: text("Stable code in kebab-case."),
      row: orNull(count("Line of the file (header 1), or row of an array; null: whole file.")),
      column: orNull(text("Header as written; null: whole row or file.")),
      received: orNull(text("The text found, shortened.")),
      rule: text("The rule that was broken."),
      remedy: text("What to do about it."),
      message: text("All of it as a sentence."),
      count: count("Rows that share the problem, when it is reported once for all."),
    },
    ["count"],
  ),
};

function abilityProperties(): Schema {
  return {
    possible: choice("limited: with care.", ["yes", "limited", "no"]),
    reason: orNull(text("Why not, or why only with care.")),
    dof: orNull(number("Degrees of freedom left.")),
  };
}

// One long file, because it is one document: its parts mean nothing apart.
/**
 * JSON Schema (2020-12) of `TrialAnalysis`, "standcurve/trial-analysis/1".
 *
 * Strict: every object lists all its properties and allows no others, so that a tool may generate types from it.
 */
export const trialAnalysisSchema: Schema = {
  $schema: "https://json-schema.org/draft/2020-12/schema",
  $id: "urn:standcurve:trial-analysis:1",
  title: "Analysis of a plant-density trial",
  ...object(
    "Plain data without NaN or Infinity. A quantity that does not exist is null with a reason; an open end of an interval is null with a flag.",
    {
      schema: { const: "standcurve/trial-analysis/1" },
      version: text("Version of the package."),
      inputHash: orNull({ type: "string", pattern: "^[0-9a-f]{64}$", description: "SHA-256 of the text read." }),
      settings: object("Options with their defaults filled in.", {
        families: list("Families compared.", family),
        level: number("Confidence level."),
        seed: count("Start of the random numbers."),
        resamples: count("Bootstrap replicates for each curve."),
        between: orNull(pair("Reference densities asked for.")),
        prices: orNull(
          object(
            "Prices.",
            {
              grainPrice: number("Money per yield unit."),
              seedCostPerThousand: number("Money per 1,000 seeds."),
              yieldCost: number("Costs that grow with yield, money per yield unit."),
            },
            ["yieldCost"],
          ),
        ),
        nearBestShare: number("Share of the best yield that counts as nearly as good."),
        nearBestLoss: number("Money per area that counts as nearly as good."),
        missBy: number("Size of a miss, density unit."),
        byEnvironment: flag("Each environment was analysed too."),
        standability: flag("Lodging, stalk traits and ratings were analysed where recorded."),
        scrutiny: flag("Influence and checks of the curve over all environments were looked at."),
        toleratedLodging: number("Share of lodged plants still accepted.", {
          exclusiveMinimum: 0,
          exclusiveMaximum: 1,
        }),
        lossShare: number("Share of a lodged plant's grain that is not harvested.", { minimum: 0, maximum: 1 }),
        mixedModels: flag("Mixed models over environments and hybrids were fitted where the data allow."),
        yieldGoal: orNull(number("Yield expected of the field, yield unit.")),
        extrapolateYieldGoal: flag("A yield goal outside the levels seen was to be answered."),
      }),
      trial: object("The trial.", {
        crop: object("Crop.", {
          name: text("Name."),
          poundsPerBushel: orNull(number("Pounds per bushel.")),
          standardMoisture: number("Moisture at which yield is stated, percent."),
        }),
        densityUnit,
        yieldUnit: choice("Unit of every yield.", yieldUnits),
        densityAxis: axis,
        moneyArea: choice("Area that money refers to.", ["ac", "ha", "m2"]),
        establishment: orNull(number("Stand / seeding rate over all plots.")),
        environments: list("Names.", { type: "string" }),
        hybrids: list("Names.", { type: "string" }),
        plotsRead: count("Plots in the file."),
        plotsUsed: count("Plots with density and yield that are not excluded."),
        excluded: list(
          "Plots left out.",
          object("One.", { row: count("Line of the file."), plot: orNull(text("Plot id.")), reason: text("Why.") }),
        ),
      }),
      check: ref("trialCheck"),
      issues: list("Problems found in the data.", ref("issue")),
      hybrids: list(
        "Each hybrid.",
        object("One hybrid.", {
          hybrid: text("Name."),
          pooled: ref("curveOrReason"),
          environments: list("Each environment, when there are several.", ref("curveOrReason")),
          acrossEnvironments: orNull(ref("acrossEnvironments")),
        }),
      ),
      comparison: object("Hybrids compared by flex score.", {
        between: orNull(pair("Reference densities, the same for all.")),
        byFlex: list("Hybrids by falling score.", { type: "string" }),
        differences: list(
          "Pairs.",
          object("One pair.", {
            first: text("Hybrid."),
            second: text("Hybrid."),
            difference: number("Score of first - score of second."),
            interval: ref("interval"),
            probability: number("Share of replicates in which the first is higher.", { minimum: 0, maximum: 1 }),
          }),
        ),
        lodging: orNull(ref("lodgingInteraction")),
        optimumDifferences: list(
          "The same pairs by agronomic optimum.",
          object("One pair.", {
            first: text("Hybrid."),
            second: text("Hybrid."),
            difference: orNull(number("Optimum of first - optimum of second; null when either is not interior.")),
            probability: number("Share of replicates in which the first is higher; equal ones count half.", {
              minimum: 0,
              maximum: 1,
            }),
          }),
        ),
        note: orNull(text("What is not compared and why.")),
      }),
      plantResponse: orNull(ref("plantResponse")),
      together: orNull(ref("hybridsTogether")),
      cautions: list("What every reader must bear in mind.", { type: "string" }),
    },
  ),
  $defs: definitions,
};
