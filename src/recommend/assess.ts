import { check } from "../core/errors.ts";
import type { AnalysisInput } from "./analysisInput.ts";
import type { DensityLimit } from "./densityLimit.ts";
import { economicSide } from "./economicSide.ts";
import { type FeedingSide, feedingSide } from "./feedingSide.ts";
import type { Field } from "./field.ts";
import { type LodgingSide, lodgingSide, standOf } from "./lodgingSide.ts";
import { type NitrogenSide, nitrogenSide } from "./nitrogenSide.ts";
import type { Attitude, RecommendOptions } from "./recommendOptions.ts";
import { type Returns, returnsOf } from "./returns.ts";
import { makeScene, type Scene } from "./scene.ts";
import { type SharedWork, sharedWork } from "./sharedWork.ts";

/** Everything known about one field before a rate is chosen. Not JSON; inside this folder. */
export interface Assessment {
  readonly shared: SharedWork;
  readonly scene: Scene;
  readonly attitude: Attitude;
  readonly lodging: LodgingSide;
  readonly feeding: FeedingSide;
  readonly nitrogen: NitrogenSide;
  readonly returns: Returns;
  readonly economic: DensityLimit;
  readonly lowest: DensityLimit;
  readonly highest: DensityLimit;
}

/**
 * @param before - an assessment of the same field and hybrid with other knowledge: its lodging and nitrogen sides are used again
 * @param place - number of the zone, see `makeScene`
 * @param shared - work kept for the other fields of the same call
 */
export function assess(
  analysis: AnalysisInput,
  field: Field,
  options: RecommendOptions,
  before?: Assessment,
  place = 0,
  shared: SharedWork = before?.shared ?? sharedWork(),
): Assessment {
  check(
    analysis?.schema === "standcurve/trial-analysis/1",
    "invalid-data",
    "a recommendation needs the result of analyzeTrial",
  );
  const attitude = options.attitude ?? { kind: "expected" };
  check(
    attitude.kind === "expected" || (attitude.kind === "chance" && attitude.chance > 0 && attitude.chance < 1),
    "invalid-option",
    'attitude must be { kind: "expected" } or { kind: "chance", chance } with 0 < chance < 1',
  );
  const scene = makeScene(analysis, field, options, place, shared);
  const lodging = before?.lodging ?? lodgingSide(scene, options, shared);
  const feeding = feedingSide(scene, analysis.trial.crop);
  const nitrogen = before?.nitrogen ?? nitrogenSide(scene, options);
  const returns = returnsOf(scene, lodging, feeding.supported, attitude);
  const end = (rate: number, kind: "at-lowest" | "at-highest", word: string): DensityLimit => ({
    name: "tested-range",
    kind,
    rate,
    stand: standOf(scene, rate),
    interval: null,
    basis: `The ${word} density grown in the trial; nothing is known beyond it.`,
  });
  return {
    shared,
    scene,
    attitude,
    lodging,
    feeding,
    nitrogen,
    returns,
    economic: economicSide(scene, returns, attitude),
    lowest: end(scene.rates[0], "at-lowest", "lowest"),
    highest: end(scene.rates[1], "at-highest", "highest"),
  };
}
