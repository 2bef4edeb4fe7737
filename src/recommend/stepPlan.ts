import { checkShape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { DensityUnit, YieldUnit } from "../trial/trial.ts";
import type { AnalysisInput } from "./analysisInput.ts";
import { assess } from "./assess.ts";
import { chooseRate } from "./chooseRate.ts";
import type { LimitName } from "./densityLimit.ts";
import { type Field, fieldShape } from "./field.ts";
import { checkedField } from "./readField.ts";
import type { Gain, Recommendation } from "./recommendation.ts";
import { type RecommendOptions, recommendOptionsShape } from "./recommendOptions.ts";
import { expectedAt, gainOf } from "./recommendRate.ts";
import { type StripDesign, stripsFor } from "./stripsFor.ts";

/** The way from the present rate to the better one, season by season. */
export interface StepPlan {
  readonly schema: "standcurve/step-plan/1";
  readonly hybrid: string;
  readonly rateUnit: DensityUnit;
  readonly yieldUnit: YieldUnit;
  readonly moneyArea: "ac" | "ha" | "m2";
  readonly currency: string;
  readonly present: number;
  readonly target: number;
  /** What holds the target where it is. */
  readonly bindingLimit: LimitName;
  /** Empty when the present rate is the target, or no accepted step leads nearer. */
  readonly steps: readonly Step[];
  /** What to look at in the strips meanwhile. */
  readonly watch: readonly string[];
  readonly strips: StripDesign | null;
  readonly notes: readonly string[];
  readonly cautions: readonly string[];
}

export interface Step {
  readonly season: number;
  readonly rate: number;
  /** Against the present rate, and against the rate of the season before; null where one of them was not tested. */
  readonly fromPresent: Gain | null;
  readonly fromLast: Gain | null;
  readonly expected: Recommendation["expected"] | null;
}

const SEASONS = 30;

/**
 * Steps from the present rate to the target of `recommendRate`, each at most the accepted step, with what every step is expected
 * to bring, what to look at meanwhile, and strips that would show the difference.
 *
 * @param field - needs `presentRate`; `acceptedStep` defaults to the whole way in one season
 * @throws AnalysisError as `recommendRate`; `invalid-option` without a present rate
 * @example
 * const field = { hybrid: "Amber 12", presentRate: 34, acceptedStep: 2, prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 } };
 * stepPlan(analysis, field).present; // => 34
 */
export function stepPlan(analysis: AnalysisInput, field: Field, options: RecommendOptions = {}): StepPlan {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(field, "field", fieldShape);
  checkShape(options, "options", recommendOptionsShape, "invalid-option");
  const given = checkedField(field);
  const present = given.presentRate;
  check(present !== undefined, "invalid-option", "a step plan needs field.presentRate");
  const assessment = assess(analysis, given, options);
  const { scene } = assessment;
  const { target, bindingLimit, notes } = chooseRate({
    ...assessment,
    scene: { ...scene, field: withoutStep(given) },
  });
  const tested = (rate: number): boolean => rate >= scene.rates[0] * (1 - 1e-9) && rate <= scene.rates[1] * (1 + 1e-9);
  const compare = (rate: number, against: number): Gain | null =>
    tested(rate) && tested(against) ? gainOf(assessment, rate, against) : null;

  const steps: Step[] = [];
  const stuck: string[] = [];
  let last = present;
  while (last !== target && steps.length < SEASONS) {
    const { rate } = chooseRate({ ...assessment, scene: { ...scene, field: { ...given, presentRate: last } } });
    if (rate === last) {
      stuck.push("The accepted step is smaller than the planter's step, so the rate cannot move.");
      break;
    }
    steps.push({
      season: steps.length + 1,
      rate,
      fromPresent: compare(rate, present),
      fromLast: compare(rate, last),
      expected: tested(rate) ? expectedAt(assessment, rate) : null,
    });
    last = rate;
  }
  return {
    schema: "standcurve/step-plan/1",
    hybrid: given.hybrid,
    rateUnit: scene.rateUnit,
    yieldUnit: scene.yieldUnit,
    moneyArea: scene.moneyArea,
    currency: given.currency ?? "",
    present,
    target,
    bindingLimit,
    steps,
    watch: steps.length === 0 ? [] : watchList(target > present, bindingLimit),
    strips: steps.length === 0 || !tested(present) ? null : strips(assessment, present, steps[0].rate, target),
    notes: [...scene.notes, ...notes, ...stuck],
    cautions: [
      "Decide after every season anew: a step that did not pay, or lodged, is a reason to stay.",
      "One season's strips mix the rate with that season's weather; compare rates within a block, over several seasons.",
      "Follow the seed label, local rules and a licensed adviser where they say otherwise.",
    ],
  };
}

function withoutStep({ acceptedStep: _, ...field }: Field): Field {
  return field;
}

function strips(assessment: Parameters<typeof gainOf>[0], present: number, next: number, target: number): StripDesign {
  const rates = [...new Set([present, next, target])];
  const { fits } = assessment.scene.main.comparison;
  const sigma = fits.find(({ family }) => family === assessment.scene.main.chosen)?.sigma ?? null;
  return stripsFor(rates, gainOf(assessment, target, present).yield.mean, sigma);
}

/** Sources: stalk tests 40 to 50 days after pollination, 100 plants in 5 places (Iowa State extension); the rest common practice. */
function watchList(up: boolean, limit: LimitName): string[] {
  const shared = [
    "Count stands in every strip after emergence: what grew, not what was dropped, makes the yield.",
    "Push or pinch stalks 40 to 50 days after pollination, 100 plants in 5 places: more than 10 in 100 failing means an early harvest.",
    "Count lodged plants just before harvest and write the date down.",
    "Weigh strips one by one, with moisture.",
  ];
  const own = up
    ? [
        "Count barren plants and look for ears not filled to the tip: they show crowding before yield does.",
        ...(limit === "feeding" || limit === "nitrogen-from-data"
          ? ["Watch leaves for hunger signs and take tissue samples at silking: the field's supply is the limit here."]
          : []),
      ]
    : [
        "Look at second ears and ear size: they show how far the remaining plants make up for missing neighbours.",
        "Look for gaps and uneven spacing: a thinner stand has fewer plants to spare.",
      ];
  return [...own, ...shared];
}
