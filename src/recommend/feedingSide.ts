import type { Interval } from "../core/interval.ts";
import type { Crop, YieldUnit } from "../trial/trial.ts";
import { convertYield } from "../trial/units.ts";
import type { DensityLimit } from "./densityLimit.ts";
import { type Estimate, estimateDraws, likely, scaled } from "./estimate.ts";
import type { Nutrient, NutrientSupply, Supply } from "./field.ts";
import { meanOf, rangeInterval } from "./figure.ts";
import { standOf } from "./lodgingSide.ts";
import { uptakePerTonne } from "./nutrients.ts";
import type { Scene } from "./scene.ts";

/** One nutrient of a field: what it holds for the crop, and the yield that feeds. */
export interface NutrientBalance {
  readonly nutrient: Nutrient;
  /** Taken up from soil and fertiliser, in the unit of the supply. */
  readonly available: number;
  readonly unit: Supply["unit"];
  /** Uptake per unit of grain as used (most likely), kg/t at standard moisture. */
  readonly uptakePerTonne: number;
  /** Yield it supports, trial's yield unit. */
  readonly supportedYield: number;
  /** Uptake of a crop at the best yield of the curve, in the unit of the supply. */
  readonly neededAtBest: number;
  /** Nitrogen is compared only: it never caps the density by this arithmetic. */
  readonly caps: boolean;
}

export interface FeedingSide {
  readonly limit: DensityLimit;
  readonly balances: readonly NutrientBalance[];
  readonly notes: readonly string[];
  /** Yield that the field can feed, by draw; null where the most likely figures do not make it a limit. */
  readonly supported: Float64Array | null;
}

const nutrients: readonly Nutrient[] = ["N", "P2O5", "K2O", "S"];

/**
 * Feeding limit: the lowest density at which the expected curve already reaches the yield that the scarcest of P2O5, K2O and S
 * supports.
 *
 * supported yield = (soil x recovery x rooting factor + applied x recovery) / uptake per unit of grain.
 */
export function feedingSide(scene: Scene, crop: Crop): FeedingSide {
  const { supply } = scene.field;
  const none = (basis: string): FeedingSide => ({
    limit: { name: "feeding", kind: "none", rate: null, stand: null, interval: null, basis },
    balances: [],
    notes: [],
    supported: null,
  });
  if (supply === undefined) return none("No nutrient supply was given, so feeding was not checked.");
  const notes: string[] = [];
  const mean = meanCurve(scene);
  const best = Math.max(...mean);
  const parts = nutrients.flatMap((nutrient, k) => {
    const given = supply[nutrient];
    if (given === undefined) return [];
    const uptake = uptakeOf(supply, nutrient, crop);
    if (uptake === null) {
      notes.push(`No uptake of ${nutrient} is on record for ${crop.name}; give supply.uptake to have it checked.`);
      return [];
    }
    const perTonne = likely(uptake);
    const amounts = availableDraws(given, supply.rootingFactor ?? 1, scene, k);
    const uptakes = estimateDraws(uptake, scene.count, scene.main.seed, scene.ownStream + 50 + k);
    const toYield = yieldPerMass(supply.unit, perTonne, scene.yieldUnit, crop);
    const available = availableOf(given, supply.rootingFactor ?? 1);
    const balance: NutrientBalance = {
      nutrient,
      available,
      unit: supply.unit,
      uptakePerTonne: perTonne,
      supportedYield: available * toYield,
      neededAtBest: best / toYield,
      caps: nutrient !== "N",
    };
    return [{ balance, yields: amounts.map((amount, d) => (amount * toYield * perTonne) / uptakes[d]) }];
  });
  const capping = parts.filter(({ balance }) => balance.caps);
  const balances = parts.map(({ balance }) => balance);
  if (capping.length === 0) {
    return { ...none("No supply of P2O5, K2O or S was given, so feeding does not cap the density."), balances, notes };
  }
  const scarcest = capping.reduce((a, b) => (b.balance.supportedYield < a.balance.supportedYield ? b : a)).balance;
  const supported = capping.map(({ yields }) => yields).reduce((a, b) => a.map((value, d) => Math.min(value, b[d])));
  const limit = capAt(scene, scarcest, supported, mean);
  // Average uptake is too loose a figure to shade yields with where it does not say that the field is short of anything.
  return { limit, balances, notes, supported: limit.kind === "at-highest" ? null : supported };
}

function capAt(
  scene: Scene,
  { nutrient, supportedYield }: NutrientBalance,
  supported: Float64Array,
  yields: Float64Array,
): DensityLimit {
  const { rates } = scene;
  const cap = firstReach((g) => yields[g], supportedYield);
  const rateAt = (place: number): number => rates[0] + ((rates[1] - rates[0]) * place) / CELLS;
  const kind = cap === null ? "at-highest" : cap === 0 ? "at-lowest" : "at";
  const rate = kind === "at" ? rateAt(cap as number) : kind === "at-lowest" ? rates[0] : rates[1];
  const caps = supported.map((level, d) => {
    const own = firstReach((g) => scene.yieldAt(d, rateAt(g)), level);
    if (own === null) return Number.POSITIVE_INFINITY;
    return own === 0 ? Number.NEGATIVE_INFINITY : rateAt(own);
  });
  const interval: Interval = rangeInterval(caps, rates, scene.level);
  const shown = Number(supportedYield.toPrecision(4));
  return {
    name: "feeding",
    kind,
    rate,
    stand: standOf(scene, rate),
    interval,
    basis:
      kind === "at-highest"
        ? `${nutrient}, the scarcest, feeds ${shown} ${scene.yieldUnit}, more than the curve asks for.`
        : `${nutrient} feeds ${shown} ${scene.yieldUnit}; ${kind === "at" ? "the curve reaches that here, and more plants would go hungry" : "the curve is above that even at the lowest tested density"}.`,
  };
}

const CELLS = 128;

/** Mean curve at CELLS + 1 rates over the tested range. */
function meanCurve(scene: Scene): Float64Array {
  const { rates, count } = scene;
  const values = new Float64Array(count);
  return Float64Array.from({ length: CELLS + 1 }, (_, g) => {
    const rate = rates[0] + ((rates[1] - rates[0]) * g) / CELLS;
    for (let d = 0; d < count; d++) values[d] = scene.yieldAt(d, rate);
    return meanOf(values);
  });
}

/** First place (in cells) at which a curve on the grid is at least `level`; null when it never is. */
function firstReach(curve: (g: number) => number, level: number): number | null {
  let before = curve(0);
  if (before >= level) return 0;
  for (let g = 1; g <= CELLS; g++) {
    const now = curve(g);
    if (now >= level) return g - 1 + (level - before) / (now - before);
    before = now;
  }
  return null;
}

/** Uptake per tonne of grain, kg/t: the user's own or the table's; null when there is none. */
function uptakeOf({ uptake }: Supply, nutrient: Nutrient, crop: Crop): Estimate | null {
  const own = uptake?.[nutrient];
  if (uptake === undefined || own === undefined) return uptakePerTonne(crop, nutrient);
  if (uptake.unit === "kg/t") return own;
  return crop.poundsPerBushel === null ? null : scaled(own, 1000 / crop.poundsPerBushel);
}

/** Amount that a crop takes up, most likely values. */
function availableOf({ soil, soilRecovery, applied, recovery }: NutrientSupply, rooting: number): number {
  return likely(soil ?? 0) * likely(soilRecovery ?? 1) * rooting + likely(applied ?? 0) * likely(recovery ?? 0);
}

function availableDraws(supply: NutrientSupply, rooting: number, scene: Scene, k: number): Float64Array {
  const draw = (estimate: Estimate, part: number): Float64Array =>
    estimateDraws(estimate, scene.count, scene.main.seed, scene.ownStream + 30 + 4 * k + part);
  const soil = draw(supply.soil ?? 0, 0);
  const soilShare = draw(supply.soilRecovery ?? 1, 1);
  const applied = draw(supply.applied ?? 0, 2);
  const appliedShare = draw(supply.recovery ?? 0, 3);
  return soil.map((amount, d) => amount * soilShare[d] * rooting + applied[d] * appliedShare[d]);
}

/** Yield (yield unit) fed by one unit of supply. */
function yieldPerMass(unit: Supply["unit"], perTonne: number, yieldUnit: YieldUnit, crop: Crop): number {
  // One unit of supply in kg per hectare, then t of grain per hectare.
  const kilograms = unit === "kg/ha" ? 1 : convertYield(1, "lb/ac", "kg/ha");
  return convertYield(kilograms / perTonne, "t/ha", yieldUnit, crop);
}
