import { choice, count, flag, list, number, object, orNull, pair, ref, type Schema, text } from "./schemaParts.ts";

const share = (description: string): Schema => number(description, { minimum: 0, maximum: 1 });
const chance = share;
const kindNames = ["stalk", "root", "green-snap", "any", "push", "pinch"];
const countedKind = (description: string): Schema => choice(description, ["all", ...kindNames]);
const limitKind = (description: string): Schema =>
  choice(description, ["interior", "below-range", "above-range", "none"]);
const linkName = choice("Link between share and straight line.", ["logit", "cloglog"]);
const coefficients = (description: string): Schema =>
  object(description, {
    intercept: orNull(number("At density 0, link scale.")),
    slope: orNull(number("Per unit of density, link scale.")),
  });
const slopes = (description: string): Schema =>
  object(description, { left: orNull(number("Below the break.")), right: orNull(number("Above it.")) });
const test = (description: string): Schema =>
  object(description, {
    statistic: number("F when the dispersion is estimated, else chi-square."),
    dof1: count("Degrees of freedom."),
    dof2: orNull(count("Of the dispersion; null when it is not estimated.")),
    pValue: chance("Its p-value."),
  });

const harvestOptimum = object("One optimum of the yield grown or brought in.", {
  kind: choice("Inside the tested range, at an end of it (there or beyond), or none.", [
    "interior",
    "lower-edge",
    "upper-edge",
    "none",
  ]),
  density: orNull(number("Density.")),
  grossYield: number("Yield grown there."),
  lodgedShare: share("Lodged share there."),
  harvestedYield: number("Yield brought in there at the stated loss."),
  return: orNull(number("Net price x yield brought in - seed cost x rate; null without prices.")),
  nearBest: orNull(ref("nearBest")),
});
const pairOf = (description: string, one: Schema): Schema =>
  object(description, { agronomic: one, economic: orNull(one) });

const lodgingFitProperties: Schema = {
  schema: { const: "standcurve/lodging-fit/1" },
  status: choice(
    "converged; separation: the bias-reduced fit is given; none-lodged, all-lodged: no curve; singular, iteration-limit: no fit.",
    ["converged", "separation", "none-lodged", "all-lodged", "iteration-limit", "singular"],
  ),
  link: linkName,
  dispersionModel: choice("How the spread between plots is treated.", ["binomial", "quasi", "beta-binomial"]),
  bias: choice("Bias reduction.", ["none", "firth"]),
  separation: orNull(
    object("Which plots stand apart.", {
      kind: choice("How.", ["no-events", "all-events", "density", "block"]),
      direction: orNull(choice("Sign of the infinite slope.", ["rising", "falling"])),
      gap: orNull(pair("Densities between which lodging begins.")),
      blocks: list("Indices of the blocks concerned.", { type: "integer", minimum: 0 }),
    }),
  ),
  coefficients: coefficients("Estimates for the average block."),
  standardErrors: coefficients("Their standard errors."),
  vcov: orNull(list("Covariance of intercept and slope.", list("Row.", { type: "number" }))),
  dispersion: orNull(number("Pearson chi-square / residual degrees of freedom.")),
  scale: number("Factor on the binomial variances."),
  icc: orNull(
    object("Correlation between plants of one plot.", {
      value: number("Estimate."),
      method: choice("How.", ["moment", "maximum-likelihood"]),
    }),
  ),
  deviance: orNull(number("Deviance.")),
  pearson: orNull(number("Pearson chi-square.")),
  nobs: count("Plots."),
  dofResidual: count("Residual degrees of freedom."),
  logLikelihood: orNull(number("Null for quasi.")),
  slopeTest: orNull(test("Change with density.")),
  notes: list("What was done and what to be careful with.", { type: "string" }),
};

/** Definitions of the standability part of an analysis, by name. */
export const standabilityDefinitions: Schema = {
  lodgingKind: choice("Kind of lodging, or a stalk test.", kindNames),
  lodgingFit: object("Lodged share against density: link(p) = block level + slope x density.", lodgingFitProperties),
  keptLodgingFit: object("The same with the counts behind it.", {
    ...lodgingFitProperties,
    data: object("Counts by plot.", {
      density: list("Density.", { type: "number" }),
      lodged: list("Plants lodged, or the lodged share when plants were not counted.", { type: "number" }),
      examined: orNull(list("Plants examined; null with shares only.", { type: "number" })),
      block: list("Block of an environment.", { type: "string" }),
    }),
    fitted: list("Fitted share by plot.", { type: "number" }),
    blockEffects: list(
      "Level of each block minus the average block, link scale.",
      object("One block.", { block: text("Its label."), effect: number("Link scale.") }),
    ),
    working: orNull(
      object("The fit on z = (density - centre) / spread: levels of the blocks, slope, and theta of a beta-binomial.", {
        centre: number("Centre."),
        spread: number("Spread."),
        blocks: list("Order of the levels.", { type: "string" }),
        theta: list("Estimates.", { type: "number" }),
        vcov: list("Their covariance, without scale.", list("Row.", { type: "number" })),
      }),
    ),
  }),
  noneLodged: object("What a trial without any lodged plant still says.", {
    examined: orNull(count("Plants looked at; null with shares only.")),
    upper: orNull(share("One-sided upper bound of the share over all plots.")),
    level: number("Confidence level."),
    statement: text("In words."),
    densities: list(
      "Per tested density, with all denser plots.",
      object("One density.", {
        density: number("Density."),
        examined: count("Plants."),
        upper: orNull(share("Upper bound.")),
      }),
    ),
  }),
  standabilityLimit: object("Highest density that keeps lodging within the tolerated share.", {
    schema: { const: "standcurve/standability-limit/1" },
    kind: limitKind(
      "interior; below-range: even the lowest tested density lodges more; above-range: the highest still stands; none.",
    ),
    density: orNull(number("The limit; null unless interior.")),
    crossing: orNull(number("Where the fitted curve passes the share, also outside the tested range; never advice.")),
    tolerated: share("Tolerated share."),
    range: pair("Tested range."),
    interval: orNull(ref("interval")),
    reason: orNull(text("Why there is none, or what to know.")),
    noneLodged: orNull(ref("noneLodged")),
    bootstrap: orNull(
      object("What became of the replicates.", {
        resamples: count("How many."),
        seed: count("Start of the random numbers."),
        below: count("Limit below the tested range."),
        above: count("Limit above it."),
        separated: count("Separated counts, or no lodged plant."),
        cutoff: orNull(number("Cut-off of the squared distance; null when not bounded.")),
      }),
    ),
  }),
  standabilityFlags: object("Verdict on every tested density.", {
    schema: { const: "standcurve/standability-flags/1" },
    tolerated: share("Tolerated share."),
    level: number("Confidence level."),
    method: choice("How intervals and chances were made.", ["bootstrap", "wald", "exact"]),
    flags: list(
      "Ascending densities.",
      object("One density.", {
        density: number("Density."),
        plots: count("Plots."),
        lodged: number("Plants lodged, or the mean share when plants were not counted."),
        examined: orNull(number("Plants examined.")),
        share: share("Fitted share, averaged over blocks."),
        interval: ref("interval"),
        probability: chance("Chance that the share exceeds the tolerated one."),
        state: choice("By that chance: up to 5 %, up to 50 %, below 95 %, from 95 %.", [
          "stands",
          "likely-stands",
          "likely-lodges",
          "lodges",
        ]),
      }),
    ),
    firstAbove: object("Lowest tested density whose figure exceeds the tolerated share; null: none does.", {
      lower: orNull(number("By the lower end of its interval.")),
      estimate: orNull(number("By its share.")),
      upper: orNull(number("By the upper end.")),
    }),
    reason: orNull(text("Why there are none.")),
  }),
  countTime: object("When plants were looked at.", {
    date: orNull(text("Date, or first to last.")),
    daysAfterMaturity: orNull(pair("Smallest and largest number of days.")),
  }),
  lodgingReport: object("One kind of lodging as counted in one round.", {
    kind: countedKind("all: lodged in any way; push and pinch tests are not lodging."),
    time: ref("countTime"),
    last: flag("The last round, nearest to harvest."),
    plots: count("Plots counted."),
    lodged: orNull(count("Plants lodged; null with shares only.")),
    examined: orNull(count("Plants examined; null with shares only.")),
    fit: ref("lodgingFit"),
    limit: ref("standabilityLimit"),
    axes: ref("onAxes"),
    intervalAxes: object("Ends of the limit's interval on both axes.", { lower: ref("onAxes"), upper: ref("onAxes") }),
    flags: ref("standabilityFlags"),
    notes: list("What was done to the counts.", { type: "string" }),
  }),
  lodgingEnvironments: object("Lodging with environments as a random sample.", {
    schema: { const: "standcurve/lodging-environments/1" },
    status: choice("How it ended.", [
      "converged",
      "no-spread",
      "separation",
      "none-lodged",
      "all-lodged",
      "singular",
      "iteration-limit",
    ]),
    link: linkName,
    coefficients: coefficients("For the typical environment."),
    standardErrors: coefficients("Their standard errors."),
    sd: orNull(number("Spread between environments, link scale.")),
    logLikelihood: orNull(number("Log-likelihood.")),
    environments: list(
      "Level of each environment.",
      object("One.", { environment: text("Name."), level: number("Link scale.") }),
    ),
    dispersion: orNull(number("Spread of plots about their environment's curve; well above 1: errors are too small.")),
    shares: list(
      "Per tested density.",
      object("One.", {
        density: number("Density."),
        typical: share("Share in the typical environment."),
        average: share("Averaged over environments."),
      }),
    ),
    limit: orNull(
      object("Density at which the average share reaches the tolerated one.", {
        kind: limitKind("As for the standability limit."),
        density: orNull(number("The limit.")),
        tolerated: share("Tolerated share."),
        interval: orNull(ref("interval")),
      }),
    ),
    notes: list("What to be careful with.", { type: "string" }),
  }),
  lodgingInteraction: object("Whether groups (hybrids, rounds of counting) respond to density alike.", {
    schema: { const: "standcurve/lodging-interaction/1" },
    status: choice("How it ended.", ["converged", "separation", "singular", "iteration-limit"]),
    interaction: orNull(test("One slope for each group against one for all.")),
    group: orNull(test("Groups at a common slope.")),
    density: orNull(test("Density at a common slope.")),
    slopes: list(
      "Slope of each group, link scale.",
      object("One.", { group: text("Group."), slope: number("Slope."), standardError: number("Its error.") }),
    ),
    commonSlope: orNull(object("Slope for all.", { slope: number("Slope."), standardError: number("Its error.") })),
    dispersion: orNull(number("Spread of plots.")),
    dofResidual: count("Residual degrees of freedom."),
    note: orNull(text("What to know.")),
  }),
  harvestOptimum,
  harvestable: object("Yield that can be harvested beside the yield grown.", {
    schema: { const: "standcurve/harvestable-optimum/1" },
    lossShare: share("Share of a lodged plant's grain taken as lost."),
    range: pair("Densities tested for yield and lodging."),
    gross: pairOf("Of the yield grown.", ref("harvestOptimum")),
    harvestable: pairOf("Of the yield brought in.", ref("harvestOptimum")),
    lossAtGross: number("Harvested yield given up by planting the gross optimum.", { minimum: 0 }),
    sensitivity: list(
      "Optima by loss share.",
      object("One.", {
        lossShare: share("Loss share."),
        agronomic: orNull(number("Density.")),
        economic: orNull(number("Density.")),
      }),
    ),
    bootstrap: orNull(
      object("Both submodels refitted on the same resampled plots.", {
        resamples: count("How many."),
        seed: count("Start of the random numbers."),
        gross: pairOf("Of the yield grown.", ref("bootstrap")),
        harvestable: pairOf("Of the yield brought in.", ref("bootstrap")),
        shift: ref("bootstrap"),
        probabilityLower: chance("Share of replicates in which lodging lowers the agronomic optimum."),
        residualCorrelation: orNull(number("Between the yield and the lodging residual of a plot.")),
        separated: count("Replicates with separated counts or no lodged plant."),
      }),
    ),
    notes: list("What to be careful with.", { type: "string" }),
  }),
  harvest: {
    description: "The harvestable optimum, or why there is none.",
    oneOf: [
      object("Estimated.", {
        kind: { const: "estimated" },
        optimum: ref("harvestable"),
        axes: object("The harvestable optima on both axes.", {
          agronomic: ref("onAxes"),
          economic: orNull(ref("onAxes")),
        }),
      }),
      object("Not estimable.", { kind: { const: "not-estimable" }, reason: text("Why not.") }),
    ],
  },
  standing: object("What decides the density: the yield response or standability.", {
    basis: orNull(countedKind("Kind of lodging it rests on; null: none was counted.")),
    target: choice("Which optimum is compared.", ["economic", "agronomic"]),
    yieldOptimum: orNull(number("That optimum.")),
    limit: orNull(number("The standability limit.")),
    limitKind: orNull(limitKind("As for the limit.")),
    binds: choice("Which of the two decides.", ["standability", "yield", "undecided"]),
    overlap: orNull({ type: "boolean", description: "Their ranges overlap, so which one binds is not settled." }),
    density: orNull(number("The lower of the two; null when undecided.")),
    axes: ref("onAxes"),
    shareAtOptimum: orNull(share("Fitted lodged share at the yield optimum.")),
    reason: text("The verdict in words."),
  }),
  brokenLine: object("Straight line against broken line.", {
    schema: { const: "standcurve/broken-line/1" },
    status: choice("How it ended.", ["converged", "break-not-identified", "perfect", "not-estimable"]),
    break: orNull(number("Density at which the lines meet.")),
    breakError: orNull(number("Its standard error; null on a tested density.")),
    interval: orNull(ref("interval")),
    slopes: slopes("Change of the trait per unit of density."),
    slopeErrors: slopes("Their standard errors."),
    intercept: orNull(number("Of the left line at density 0.")),
    rss: orNull(number("Residual sum of squares.")),
    sigma: orNull(number("Residual standard deviation.")),
    nobs: count("Plots."),
    dofResidual: count("Residual degrees of freedom."),
    straight: orNull(
      object("The straight line.", {
        intercept: number("At density 0."),
        slope: number("Slope."),
        slopeError: orNull(number("Its standard error.")),
        rss: number("Residual sum of squares."),
      }),
    ),
    statistic: orNull(number("Largest F over all breaks.")),
    pValue: orNull(chance("From trials simulated under a straight line.")),
    test: orNull(object("How.", { simulations: count("Trials."), seed: count("Start of the random numbers.") })),
    localMinima: list(
      "Other breaks, best first.",
      object("One.", { break: number("Density."), rss: number("Sum of squares.") }),
    ),
    range: pair("Tested range."),
    note: orNull(text("What to know.")),
  }),
  crowdingSlope: object("Slope of ln(trait) on ln(density).", {
    schema: { const: "standcurve/crowding-slope/1" },
    status: choice("How it ended.", ["converged", "not-estimable"]),
    slope: orNull(number("0: crowding leaves the trait alone.")),
    standardError: orNull(number("Its standard error.")),
    interval: orNull(ref("interval")),
    pValue: orNull(chance("Against no change.")),
    nobs: count("Plots."),
    dofResidual: count("Residual degrees of freedom."),
  }),
  traitReport: object("A plant trait against density.", {
    name: text("Column."),
    measure: choice("What it measures.", [
      "stalk-diameter",
      "rind-strength",
      "plant-height",
      "ear-height",
      "root-score",
    ]),
    unit: orNull(text("As the header says.")),
    plots: count("Plots with a value."),
    mean: number("Mean of the plots."),
    brokenLine: ref("brokenLine"),
    crowding: orNull(ref("crowdingSlope")),
    decline: object("How it changes with density.", {
      kind: choice(
        "break: falls beyond a density; throughout: falls over the tested range; rises; none shown; untested.",
        ["break", "throughout", "rises", "none", "untested"],
      ),
      density: orNull(number("Where the decline begins.")),
      axes: ref("onAxes"),
      interval: orNull(ref("interval")),
    }),
  }),
  ratingsFit: object("Ordered ratings against density, proportional odds.", {
    schema: { const: "standcurve/ratings-fit/1" },
    status: choice("How it ended.", ["converged", "separation", "one-rating", "singular", "iteration-limit"]),
    worse: choice("Which end is bad.", ["higher", "lower"]),
    ratings: list("Ratings that occur, best first.", { type: "number" }),
    slope: orNull(number("Log odds of a worse rating per unit of density.")),
    slopeError: orNull(number("Its standard error.")),
    slopeTest: orNull(
      object("Likelihood ratio.", {
        statistic: number("Chi-square."),
        dof: count("Degrees of freedom."),
        pValue: chance("p."),
      }),
    ),
    cuts: list(
      "Cut of each rating, average block.",
      object("One.", { rating: number("Rating."), cut: number("Logit scale."), standardError: number("Its error.") }),
    ),
    blockEffects: list(
      "Block minus average block.",
      object("One.", { block: text("Label."), effect: number("Above 0: worse.") }),
    ),
    worseThan: list(
      "Chance of a rating worse than each, per density.",
      object("One.", {
        density: number("Density."),
        rating: number("Rating."),
        probability: chance("Chance, averaged over blocks."),
        standardError: number("Its error."),
        interval: ref("interval"),
      }),
    ),
    logLikelihood: orNull(number("Log-likelihood.")),
    nobs: count("Plots."),
    note: orNull(text("What to know.")),
  }),
  ratingReport: object("Ratings on a stated scale.", {
    name: text("Column."),
    scale: pair("Lowest and highest rating."),
    worst: number("The bad end."),
    plots: count("Plots rated."),
    fit: ref("ratingsFit"),
    middle: number("Middle of the scale."),
  }),
  standability: object("How one hybrid stands.", {
    tolerated: share("Share of lodged plants still accepted."),
    standing: ref("standing"),
    lodging: list("By kind and round of counting, the last round first.", ref("lodgingReport")),
    lodgingFit: orNull(ref("keptLodgingFit")),
    newEnvironment: orNull(ref("lodgingEnvironments")),
    harvest: ref("harvest"),
    scenarios: list(
      "The harvestable optimum by round of counting, earliest first.",
      object("One round.", { date: text("Date, or days after maturity."), optimum: ref("harvestable") }),
    ),
    dateByDensity: orNull(ref("lodgingInteraction")),
    traits: list("Plant traits.", ref("traitReport")),
    ratings: list("Ratings.", ref("ratingReport")),
    notes: list("What was done and what to be careful with.", { type: "string" }),
  }),
};
