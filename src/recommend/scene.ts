import { check } from "../core/errors.ts";
import type { DensityUnit, YieldUnit } from "../trial/trial.ts";
import { convertDensity } from "../trial/units.ts";
import type { AnalysisInput, CurveInput } from "./analysisInput.ts";
import { type Elsewhere, elsewhereContrasts, publishedElsewhere } from "./elsewhere.ts";
import { type Estimate, estimateDraws, likely, scaled } from "./estimate.ts";
import type { Field, FieldPrices } from "./field.ts";
import { meanOf } from "./figure.ts";
import { type PickedCurves, pickCurves } from "./pickCurves.ts";
import type { RecommendOptions } from "./recommendOptions.ts";
import { type ResponseDraws, responseDraws, streams } from "./responseDraws.ts";
import type { SharedWork } from "./sharedWork.ts";

/** A field brought together with its curves: every uncertain figure as draws, every unit settled. Not JSON; inside this folder. */
export interface Scene {
  readonly field: Field;
  readonly main: CurveInput;
  readonly picked: PickedCurves;
  readonly draws: ResponseDraws;
  readonly count: number;
  readonly level: number;
  readonly rateUnit: DensityUnit;
  readonly yieldUnit: YieldUnit;
  readonly moneyArea: "ac" | "ha" | "m2";
  /** Seeds that one rate unit means on the area of the money. */
  readonly seedsPerRateUnit: number;
  /** Trial's density axis per rate unit: x = rate * perRate, most likely and by draw. */
  readonly perRate: number;
  readonly perRateDraws: Float64Array;
  readonly perRateEstimate: Estimate;
  /** Plants per seed in the field, as used; null when unknown. */
  readonly establishment: Estimate | null;
  /** Tested range as rates in the field. */
  readonly rates: readonly [number, number];
  readonly net: Float64Array;
  /** Money per rate unit and area. */
  readonly seedCost: Float64Array;
  readonly grainPrice: number;
  readonly seedCostPerThousand: number;
  /** Added to every yield so that the best of the mean curve is the yield goal. */
  readonly shift: number;
  readonly knowledge: Elsewhere | null;
  readonly notes: readonly string[];
  /** First of the random streams of this field's own figures (establishment, supply). */
  readonly ownStream: number;
  /** Yield at a rate in draw d, shift included. */
  yieldAt(d: number, rate: number): number;
}

const areaUnit = { ac: "plants/ac", ha: "plants/ha", m2: "plants/m2" } as const;

/** How far establishment may be off when nothing is said: plant losses of 4 to 7 % and stands of 90 to 95 % are usual (extension). */
const ESTABLISHMENT_DOUBT = 0.04;

/** @param place - number of the zone: zones share curves and prices, their own figures are independent */
export function makeScene(
  analysis: AnalysisInput,
  field: Field,
  options: RecommendOptions,
  place: number,
  shared: SharedWork,
): Scene {
  const count = options.draws ?? 1000;
  check(Number.isInteger(count) && count >= 50, "invalid-option", `draws must be an integer >= 50, got ${count}`);
  const level = options.level ?? analysis.settings.level;
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  const { trial } = analysis;
  const rateUnit = field.rateUnit ?? trial.densityUnit;
  const goal = field.yieldGoal ?? null;
  const curves = [field.hybrid, field.environment ?? null, goal];
  const picked = shared.once(["curves", ...curves], () => pickCurves(analysis, field, options, count, shared));
  const { main, range } = picked;
  const notes = [...picked.notes];
  const n = picked.curves.length;
  const seed = main.seed;
  const common = (estimate: Estimate, stream: number): Float64Array =>
    estimateDraws(estimate, n, seed, streams.inputs + stream);
  const ownStream = streams.inputs + 1000 * (place + 1);

  const unit = convertDensity(1, rateUnit, trial.densityUnit);
  const known = main.establishment ?? trial.establishment;
  const { establishment, perRate: share } = axis(field, known, trial.densityAxis, notes);
  const perRateEstimate = scaled(share, unit);
  const perRate = likely(perRateEstimate);

  const knowledge = knowledgeOf(analysis, options);
  // On a seeding-rate axis one x is `known` plants.
  const standPerX = trial.densityAxis === "seeding-rate" ? (known ?? 1) : 1;
  const contrasts =
    knowledge && picked.basis !== "curve at the yield goal"
      ? elsewhereContrasts(knowledge, main.meanYield, range, trial.densityUnit, standPerX)
      : null;
  const draws = shared.once(["draws", contrasts, ...curves], () =>
    responseDraws(picked.curves, range, contrasts, seed),
  );

  const prices = field.prices ?? pricesOf(analysis);
  check(
    prices !== null,
    "invalid-option",
    "prices are needed: give field.prices { grainPrice, seedCostPerThousand } or analyse the trial with prices",
  );
  const seedsPerRateUnit = convertDensity(1, rateUnit, areaUnit[trial.moneyArea]);
  const grain = common(prices.grainPrice, 1);
  const cost = common(prices.yieldCost ?? 0, 2);
  const net = grain.map((price, d) => price - cost[d]);
  check(
    net.every((price) => price > 0),
    "invalid-option",
    "the grain price must stay above the cost per yield unit",
  );

  const perRateDraws = estimateDraws(perRateEstimate, n, seed, ownStream);
  const top = (): number => shared.once(["top", contrasts, ...curves], () => bestOfMean(draws));
  // A curve for the goal is at its level already.
  const atGoal = picked.basis === "curve at the yield goal";
  const shift = field.yieldGoal === undefined || atGoal ? 0 : field.yieldGoal - top();
  return {
    field,
    main,
    picked,
    draws,
    count: n,
    level,
    rateUnit,
    yieldUnit: trial.yieldUnit,
    moneyArea: trial.moneyArea,
    seedsPerRateUnit,
    perRate,
    perRateDraws,
    perRateEstimate,
    establishment,
    rates: [range[0] / perRate, range[1] / perRate],
    net,
    seedCost: common(prices.seedCostPerThousand, 3).map((price) => (price * seedsPerRateUnit) / 1000),
    grainPrice: likely(prices.grainPrice),
    seedCostPerThousand: likely(prices.seedCostPerThousand),
    shift,
    knowledge: picked.basis === "curve at the yield goal" ? null : knowledge,
    notes,
    ownStream,
    yieldAt: perRateYield(draws, perRateDraws, shift),
  };
}

function perRateYield(draws: ResponseDraws, perRate: Float64Array, shift: number): Scene["yieldAt"] {
  return (d, rate) => draws.value(d, rate * perRate[d]) + shift;
}

/** What one seed of the field is on the trial's density axis. */
function axis(
  field: Field,
  known: number | null,
  densityAxis: AnalysisInput["trial"]["densityAxis"],
  notes: string[],
): { establishment: Estimate | null; perRate: Estimate } {
  const given = field.establishment ?? null;
  const own =
    given ??
    (known === null
      ? null
      : {
          lowest: known - ESTABLISHMENT_DOUBT,
          likely: known,
          highest: Math.max(known, Math.min(1, known + ESTABLISHMENT_DOUBT)),
        });
  if (densityAxis !== "seeding-rate") {
    if (own === null) notes.push("Establishment is not known: rates are given as if every seed made a plant.");
    return { establishment: own, perRate: own ?? 1 };
  }
  if (given === null) return { establishment: own, perRate: 1 };
  if (known === null) {
    notes.push(
      "The trial gives no establishment, so the field's own could not be set against it; rates are the trial's.",
    );
    return { establishment: given, perRate: 1 };
  }
  return { establishment: given, perRate: scaled(given, 1 / known) };
}

function knowledgeOf(analysis: AnalysisInput, { elsewhere = "published" }: RecommendOptions): Elsewhere | null {
  if (elsewhere === "none") return null;
  if (elsewhere === "published") return publishedElsewhere(analysis.trial.crop);
  const { optimum, optimumSpread, bend, bendSpread } = elsewhere;
  check(
    [optimum, optimumSpread, bend, bendSpread].every((value) => value > 0 && Number.isFinite(value)),
    "invalid-option",
    "elsewhere needs optimum, optimumSpread, bend and bendSpread above 0",
  );
  return elsewhere;
}

function pricesOf({ settings }: AnalysisInput): FieldPrices | null {
  return settings.prices;
}

/** Highest value of the mean curve on the tested range, on a fine grid: a level, not a place. */
function bestOfMean(draws: ResponseDraws): number {
  const [low, high] = draws.range;
  const cells = 128;
  let best = Number.NEGATIVE_INFINITY;
  const values = new Float64Array(draws.count);
  for (let g = 0; g <= cells; g++) {
    const x = low + ((high - low) * g) / cells;
    for (let d = 0; d < draws.count; d++) values[d] = draws.value(d, x);
    best = Math.max(best, meanOf(values));
  }
  return best;
}
