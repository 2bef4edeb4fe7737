import { checkShape } from "../core/checkShape.ts";
import { type NearBest, nearBest } from "../derive/nearBest.ts";
import type { AnalysisInput } from "./analysisInput.ts";
import { type Assessment, assess } from "./assess.ts";
import { assumptionsOf, cautionsOf } from "./cautions.ts";
import { type ChosenRate, chooseRate } from "./chooseRate.ts";
import { limitsOf, notesOf } from "./densityLimits.ts";
import { type Field, fieldShape } from "./field.ts";
import { figureOf, meanOf } from "./figure.ts";
import { standOf } from "./lodgingSide.ts";
import { multiple } from "./planterRates.ts";
import { checkedField } from "./readField.ts";
import type { Gain, Recommendation } from "./recommendation.ts";
import { type RecommendOptions, recommendOptionsShape } from "./recommendOptions.ts";
import { summaryOf } from "./summary.ts";

/**
 * A seeding rate for one hybrid in one field, with its reasons.
 *
 * The rate that pays best over all curves the evidence allows comes first (highest expected return, or the best return at a
 * stated chance). It is capped where more plants than tolerated would lodge, where the field can feed no more yield, and at
 * the highest tested density; then it is approached from the present rate by at most the accepted step. Rates are multiples of
 * the planter's step. Nothing is extrapolated beyond the tested range.
 *
 * Curves come from the analysis alone, or, better, from refits when the trial is given. For maize they are combined with published
 * results as with one more, imprecise trial (`elsewhere`), which steadies small trials; the rate without them is in the result.
 *
 * @param analysis - result of `analyzeTrial`, also after a trip through JSON
 * @param field - see `Field`; `readField` lists everything that is wrong with one
 * @throws AnalysisError `invalid-data` when the field breaks a rule (all of them are listed)
 * @throws AnalysisError `invalid-option` for an unknown hybrid, missing prices or an option out of bounds
 * @throws AnalysisError `not-estimable` when the hybrid has no curve
 * @example
 * const { trial } = readTrial(
 *   "hybrid,block,seeding_rate_k_ac,yield_bu_ac\nA,1,18,176\nA,1,24,193\nA,1,30,200\nA,1,36,197\nA,2,18,175\nA,2,24,190\nA,2,30,203\nA,2,36,200\n",
 * );
 * const field = { hybrid: "A", prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 }, planterStep: 1 };
 * recommendRate(analyzeTrial(trial), field).rate; // => 28
 *
 * Source: expected-utility choice under parameter uncertainty, e.g. DeGroot (1970), Optimal Statistical Decisions, ch. 8; regret
 * against simple rules: bench/regret.mjs.
 */
export function recommendRate(analysis: AnalysisInput, field: Field, options: RecommendOptions = {}): Recommendation {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(field, "field", fieldShape);
  checkShape(options, "options", recommendOptionsShape, "invalid-option");
  return recommendFrom(assess(analysis, checkedField(field), options), analysis, options);
}

/** The same from a field already assessed. */
export function recommendFrom(
  assessment: Assessment,
  analysis: AnalysisInput,
  options: RecommendOptions,
): Recommendation {
  const { scene, attitude, feeding } = assessment;
  const { field } = scene;
  const chosen = chooseRate(assessment);
  const { rate, target, bindingLimit, acceptedStep } = chosen;
  const present = field.presentRate;
  const reachable = present !== undefined && isInside(present, scene.rates);
  const without =
    scene.knowledge === null
      ? null
      : chooseRate(assess(analysis, field, { ...options, elsewhere: "none" }, assessment));
  const parts = {
    rate,
    expected: expectedAt(assessment, rate),
    gain: reachable ? gainOf(assessment, rate, present) : null,
  };
  const result: Omit<Recommendation, "summary"> = {
    schema: "standcurve/recommendation/1",
    hybrid: field.hybrid,
    field: field.name ?? null,
    rateUnit: scene.rateUnit,
    yieldUnit: scene.yieldUnit,
    moneyArea: scene.moneyArea,
    currency: field.currency ?? "",
    ...parts,
    stand: standOf(scene, rate),
    seedsPerArea: multiple(1, rate * scene.seedsPerRateUnit),
    target,
    bindingLimit,
    limits: { ...limitsOf(assessment), acceptedStep },
    nearBest: nearBestRates(assessment, chosen, options.nearBestLoss ?? 1),
    gainReason: reachable
      ? null
      : present === undefined
        ? "No present rate was given to compare with."
        : "The present rate lies outside the tested range, so the trial says nothing about it.",
    attitude,
    evidence: {
      curves: scene.picked.source,
      basis: scene.picked.basis,
      environment: scene.main.environment,
      plots: scene.main.plots,
      draws: scene.count,
      seed: scene.main.seed,
      elsewhere:
        scene.knowledge === null || without === null
          ? null
          : { source: scene.knowledge.source, rateWithout: without.rate, targetWithout: without.target },
    },
    balances: feeding.balances,
    assumptions: assumptionsOf(assessment),
    cautions: cautionsOf(assessment, chosen, parts),
    notes: [...notesOf(assessment), ...chosen.notes],
  };
  return { ...result, summary: summaryOf(result) };
}

function isInside(rate: number, [low, high]: readonly [number, number]): boolean {
  return rate >= low * (1 - 1e-9) && rate <= high * (1 + 1e-9);
}

/** Yield, seed cost, return and lodging to expect at a rate. */
export function expectedAt({ scene, returns, lodging }: Assessment, rate: number): Recommendation["expected"] {
  const { count, level } = scene;
  const share = lodging.share;
  const shares = share === null ? null : Float64Array.from({ length: count }, (_, d) => share(d, rate));
  return {
    yield: figureOf(returns.yields(rate, true, new Float64Array(count)), level),
    seedCost: meanOf(scene.seedCost) * rate,
    return: figureOf(returns.draws(rate, true, new Float64Array(count)), level),
    lodging: shares && {
      share: meanOf(shares),
      tolerated: lodging.tolerated,
      probability: shares.filter((value) => value > lodging.tolerated).length / count,
    },
  };
}

/** Change of yield and money from one rate to another, draw by draw. */
export function gainOf({ scene, returns }: Assessment, rate: number, against: number): Gain {
  const { count, level } = scene;
  const draws = (of: "draws" | "yields", at: number): Float64Array => returns[of](at, true, new Float64Array(count));
  const difference = (of: "draws" | "yields"): Float64Array => {
    const base = draws(of, against);
    return draws(of, rate).map((value, d) => value - base[d]);
  };
  const money = difference("draws");
  const more = money.reduce((sum, value) => sum + (value > 0 ? 1 : value === 0 ? 0.5 : 0), 0);
  const seedCost = meanOf(scene.seedCost) * (rate - against);
  return {
    against,
    yield: figureOf(difference("yields"), level),
    seedCost,
    return: figureOf(money, level),
    probability: rate === against ? null : more / count,
    breakEvenYield: seedCost / meanOf(scene.net),
  };
}

/** Rates nearly as good as the best allowed one: a range on the curve of worth, cut at the cap. */
function nearBestRates({ scene, returns, economic }: Assessment, { cap }: ChosenRate, loss: number): NearBest {
  const top = Math.min(cap, scene.rates[1]);
  const low = scene.rates[0];
  if (!(top > low)) return { loss, lower: low, upper: low, lowerAtEdge: true, upperAtEdge: true };
  const at = Math.min(economic.rate as number, top);
  const best = Math.max(returns.worth(at), returns.worth(top), returns.worth(low));
  const range = nearBest(returns.worth, best, loss, [low, top], [at]);
  return { ...range, upperAtEdge: range.upperAtEdge && top === scene.rates[1] };
}
