import type { CurveAnalysis, NoAnalysis, TrialAnalysis } from "../analyze/result.ts";
import type { LodgingReport, RatingReport, StandabilityReport, TraitReport } from "../analyze/standability.ts";
import type { Interval } from "../core/interval.ts";
import type { HarvestOptimum } from "../standability/harvestableOptimum.ts";
import type { TidyRow } from "./csvText.ts";
import { significant } from "./numberText.ts";
import { countedWhen } from "./standWords.ts";

/** Columns of the table of standability. */
export const standabilityColumns = [
  "hybrid",
  "environment",
  "quantity",
  "subject",
  "counted",
  "density",
  "density_unit",
  "unit",
  "estimate",
  "lower",
  "upper",
  "lower_open",
  "upper_open",
  "level",
  "method",
  "probability",
  "kind",
  "plots",
  "lodged",
  "examined",
  "note",
] as const;

type Cells = { readonly [K in (typeof standabilityColumns)[number]]?: TidyRow[string] };

/** One estimate a row: limits, shares, harvestable optima, traits and ratings, for all environments together and for each. */
export function standabilityRows(analysis: TrialAnalysis): TidyRow[] {
  return analysis.hybrids
    .flatMap(({ pooled, environments }) => [pooled, ...environments])
    .flatMap((one) => rowsOf(analysis, one));
}

function rowsOf({ trial }: TrialAnalysis, one: CurveAnalysis | NoAnalysis): TidyRow[] {
  const report = one.standability;
  if (report === null) return [];
  const { densityUnit } = trial;
  const base: Cells = { hybrid: one.hybrid, environment: one.environment, density_unit: densityUnit };
  return [
    ...standingRows(report, densityUnit),
    ...report.lodging.flatMap((lodging) => lodgingRows(lodging, densityUnit)),
    ...elsewhereRows(report, densityUnit),
    ...harvestRows(report, densityUnit),
    ...report.traits.flatMap((trait) => traitRows(trait, densityUnit)),
    ...report.ratings.flatMap(ratingRows),
  ].map((cells) => {
    const all: Cells = { ...base, ...cells };
    return Object.fromEntries(standabilityColumns.map((name) => [name, all[name] ?? null]));
  });
}

function standingRows({ standing, tolerated }: StandabilityReport, unit: string): Cells[] {
  if (standing.basis === null) return [];
  const head = { subject: standing.basis, kind: standing.binds, unit };
  return [
    { quantity: "density_within_standability", ...head, estimate: standing.density, note: standing.reason },
    { quantity: "density_within_standability_seeding_rate", ...head, estimate: standing.axes.seedingRate },
    { quantity: "density_within_standability_stand", ...head, estimate: standing.axes.stand },
    {
      quantity: "share_at_yield_optimum",
      ...head,
      unit: "share",
      density: standing.yieldOptimum,
      estimate: standing.shareAtOptimum,
      note: `${standing.target} optimum; tolerated ${tolerated}`,
    },
  ];
}

function lodgingRows(
  { kind, time, plots, lodged, examined, fit, limit, axes, intervalAxes, flags, notes }: LodgingReport,
  unit: string,
): Cells[] {
  const head = { subject: kind, counted: countedWhen(time).replace(/^counted /, "") || null };
  const total = { plots, lodged, examined };
  const ends = limit.interval === null ? {} : limits(limit.interval);
  const onAxis = (axis: "stand" | "seedingRate"): Cells => ({
    estimate: axes[axis],
    ...ends,
    lower: intervalAxes.lower[axis],
    upper: intervalAxes.upper[axis],
  });
  return [
    {
      quantity: "limit",
      ...head,
      unit,
      estimate: limit.density,
      ...ends,
      kind: limit.kind,
      ...total,
      note: [`tolerated ${limit.tolerated}`, limit.reason, ...notes].filter((text) => text !== null).join("; "),
    },
    { quantity: "limit_seeding_rate", ...head, unit, ...onAxis("seedingRate"), kind: limit.kind },
    { quantity: "limit_stand", ...head, unit, ...onAxis("stand"), kind: limit.kind },
    {
      quantity: "slope",
      ...head,
      unit: `${fit.link} per ${unit}`,
      estimate: fit.coefficients.slope,
      method: fit.dispersionModel,
      probability: fit.slopeTest?.pValue ?? null,
      kind: fit.status,
      ...total,
      note: "probability: p-value against no change",
    },
    {
      quantity: "dispersion",
      ...head,
      unit: "ratio",
      estimate: fit.dispersion,
      kind: fit.status,
      note: "1: plants fall independently",
    },
    ...flags.flags.map(
      (flag): Cells => ({
        quantity: "lodged_share",
        ...head,
        density: flag.density,
        unit: "share",
        estimate: flag.share,
        ...limits(flag.interval),
        probability: flag.probability,
        kind: flag.state,
        plots: flag.plots,
        lodged: flag.lodged,
        examined: flag.examined,
        note: `probability: share above ${flags.tolerated}`,
      }),
    ),
    {
      quantity: "first_density_above",
      ...head,
      unit,
      estimate: flags.firstAbove.estimate,
      lower: flags.firstAbove.upper,
      upper: flags.firstAbove.lower,
      note: "lowest tested density whose share exceeds the tolerated one; lower and upper by the ends of its interval",
    },
  ];
}

function elsewhereRows({ newEnvironment, standing }: StandabilityReport, unit: string): Cells[] {
  const limit = newEnvironment?.limit;
  if (newEnvironment == null || limit == null) return [];
  return [
    {
      quantity: "limit_new_environment",
      subject: standing.basis,
      unit,
      estimate: limit.density,
      ...(limit.interval === null ? {} : limits(limit.interval)),
      kind: limit.kind,
      note: ["environments as a sample of others", ...newEnvironment.notes].join("; "),
    },
  ];
}

function harvestRows({ harvest, scenarios, standing }: StandabilityReport, unit: string): Cells[] {
  if (harvest.kind === "not-estimable") return [];
  const { optimum, axes } = harvest;
  const loss = `${significant(100 * optimum.lossShare, 4)} % of lodged grain lost`;
  const pairs = [
    ["agronomic", "highest harvest"],
    ["economic", "best-paying harvest"],
  ] as const;
  const rows = pairs.flatMap(([target, words]): Cells[] => {
    const found = optimum.harvestable[target];
    const place = axes[target];
    if (found === null || place === null) return [];
    const draws = optimum.bootstrap?.harvestable[target]?.interval;
    const head = { subject: standing.basis, unit, kind: found.kind };
    return [
      {
        quantity: `harvestable_${target}_density`,
        ...head,
        estimate: found.density,
        ...(draws === undefined ? {} : limits(draws)),
        note: `${words}; ${loss}`,
      },
      { quantity: `harvestable_${target}_seeding_rate`, ...head, estimate: place.seedingRate, note: loss },
      { quantity: `harvestable_${target}_stand`, ...head, estimate: place.stand, note: loss },
      ...optimum.sensitivity.map(
        (one): Cells => ({
          quantity: `harvestable_${target}_density`,
          subject: standing.basis,
          unit,
          estimate: one[target],
          method: "sensitivity",
          note: `${significant(100 * one.lossShare, 4)} % of lodged grain lost`,
        }),
      ),
    ];
  });
  const rounds = scenarios.flatMap(({ date, optimum: scenario }) =>
    pairs.flatMap(([target, words]): Cells[] => {
      const found: HarvestOptimum | null = scenario.harvestable[target];
      if (found === null) return [];
      return [
        {
          quantity: `harvestable_${target}_density`,
          subject: standing.basis,
          counted: date,
          unit,
          estimate: found.density,
          method: "scenario",
          kind: found.kind,
          note: `${words} by the count of that date; ${loss}`,
        },
      ];
    }),
  );
  return [...rows, ...rounds];
}

function traitRows({ name, measure, plots, brokenLine, crowding, decline }: TraitReport, unit: string): Cells[] {
  const head = { subject: name, plots };
  return [
    {
      quantity: `${measure.replace("-", "_")}_break`,
      ...head,
      unit,
      estimate: brokenLine.break,
      ...(brokenLine.interval === null ? {} : limits(brokenLine.interval)),
      probability: brokenLine.pValue,
      kind: decline.kind,
      note: ["probability: p-value against a straight line", brokenLine.note]
        .filter((text) => text !== null)
        .join("; "),
    },
    ...(crowding === null
      ? []
      : [
          {
            quantity: `${measure.replace("-", "_")}_crowding_slope`,
            ...head,
            unit: "log per log",
            estimate: crowding.slope,
            ...(crowding.interval === null ? {} : limits(crowding.interval)),
            probability: crowding.pValue,
            kind: decline.kind,
            note: "probability: p-value against no change",
          },
        ]),
  ];
}

function ratingRows({ name, plots, fit }: RatingReport): Cells[] {
  return fit.worseThan.map(({ density, rating, probability, interval }) => ({
    quantity: "rating_worse_than",
    subject: name,
    density,
    unit: "share",
    estimate: probability,
    ...limits(interval),
    kind: String(rating),
    plots,
    note: `chance of a rating worse than ${rating}`,
  }));
}

function limits({ lower, upper, lowerOpen, upperOpen, level, method }: Interval): Cells {
  return { lower, upper, lower_open: lowerOpen, upper_open: upperOpen, level, method };
}
