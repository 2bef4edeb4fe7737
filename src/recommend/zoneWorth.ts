import { type Figure, figureOf, meanOf, quantileOf } from "./figure.ts";
import { defaultPlanterStep, planterRates } from "./planterRates.ts";
import { isMore } from "./returns.ts";
import type { PlannedZone } from "./zonePlan.ts";
import type { Sited } from "./zoneSite.ts";

/** Difference of two plans in money of the whole field, draw by draw. */
export function valueOfVarying(
  varied: Float64Array,
  same: Float64Array,
  cost: number,
  area: number,
  level: number,
): { total: Figure; perArea: number; cost: number; probability: number } {
  const difference = varied.map((money, d) => money - same[d] - cost);
  const total = figureOf(difference, level);
  const pays = difference.reduce((sum, money) => sum + (money > 0 ? 1 : money === 0 ? 0.5 : 0), 0);
  return { total, perArea: total.mean / area, cost, probability: pays / difference.length };
}

/** Money of the whole field by draw, each zone at its own rate. */
export function moneyDraws(sited: readonly Sited[]): (rateOf: (one: Sited) => number, fed: boolean) => Float64Array {
  const buffer = new Float64Array(sited[0].assessment.scene.count);
  return (rateOf, fed) => {
    const total = new Float64Array(buffer.length);
    for (const one of sited) {
      one.assessment.returns.draws(rateOf(one), fed, buffer);
      for (let d = 0; d < total.length; d++) total[d] += buffer[d] * one.area;
    }
    return total;
  };
}

/** Planter's rate that is best for all zones together, inside every zone's tested range (and caps). */
export function bestUniform(
  sited: readonly Sited[],
  planned: readonly PlannedZone[],
  money: ReturnType<typeof moneyDraws>,
  capped: boolean,
): number | null {
  const { scene, attitude } = sited[0].assessment;
  const low = Math.max(...sited.map(({ assessment }) => assessment.scene.rates[0]));
  const high = Math.min(
    // A zone whose cap lies below its tested range is planted at the first rate inside it.
    ...sited.map(({ assessment, rate }, i) => (capped ? Math.max(planned[i].cap, rate) : assessment.scene.rates[1])),
  );
  const rates = planterRates(low, high, scene.field.planterStep ?? defaultPlanterStep(scene.rateUnit));
  let best: number | null = null;
  let most = Number.NEGATIVE_INFINITY;
  for (const rate of rates) {
    const total = money(() => rate, true);
    const worth = attitude.kind === "expected" ? meanOf(total) : quantileOf(total.sort(), attitude.chance);
    if (best === null || isMore(worth, most)) [best, most] = [rate, worth];
  }
  return best;
}
