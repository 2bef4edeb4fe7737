import { streamRandom } from "../core/random.ts";
import type { DensityLimit } from "./densityLimit.ts";
import { rangeInterval } from "./figure.ts";
import { standOf } from "./lodgingSide.ts";
import { nitrogenOf } from "./nitrogenPlots.ts";
import { densityFedBy, type NitrogenSurface } from "./nitrogenSurface.ts";
import { lowerFactor, timesFactor } from "./normalDraws.ts";
import type { RecommendOptions } from "./recommendOptions.ts";
import { streams } from "./responseDraws.ts";
import type { Scene } from "./scene.ts";

/** Nitrogen limit read from a trial that varied nitrogen too. */
export interface NitrogenSide {
  readonly limit: DensityLimit;
  readonly surface: NitrogenSurface | null;
  readonly notes: readonly string[];
}

/**
 * Nitrogen limit from data: the density of the highest yield at the field's nitrogen rate, on the fitted surface. It caps only where
 * more nitrogen moves that density up; otherwise this trial gives no reason to hold density back for want of nitrogen.
 */
export function nitrogenSide(scene: Scene, options: RecommendOptions): NitrogenSide {
  const notes: string[] = [];
  const none = (basis: string, surface: NitrogenSurface | null = null): NitrogenSide => ({
    limit: { name: "nitrogen-from-data", kind: "none", rate: null, stand: null, interval: null, basis },
    surface,
    notes,
  });
  const surface = options.nitrogen ?? surfaceOf(scene, options, notes);
  if (surface === null) return none("The trial did not vary nitrogen, so no nitrogen limit can be read from it.");
  notes.push("The trial varied nitrogen: the yield curve is that of the average of the rates it grew.");
  const rate = scene.field.nitrogenRate;
  if (rate === undefined) {
    notes.push("Give field.nitrogenRate to read the nitrogen limit of the density from it.");
    return none("The field's nitrogen rate was not given.", surface);
  }
  const [least, most] = surface.nitrogenRange;
  if (rate < least || rate > most) {
    return none(`The field's nitrogen rate ${rate} is outside the ${least} to ${most} of the trial.`, surface);
  }
  const density = densityFedBy(surface, rate);
  if (!(surface.coefficients.densityNitrogen > 0) || density === null) {
    return none(
      "In this trial more nitrogen did not move the best density up, so nitrogen does not hold it back.",
      surface,
    );
  }
  const { rates, perRate, draws } = scene;
  const [low, high] = draws.range;
  const kind = density <= low ? "at-lowest" : density >= high ? "at-highest" : "at";
  const at = kind === "at" ? density / perRate : kind === "at-lowest" ? rates[0] : rates[1];
  const drawn = drawnDensities(scene, surface, rate).map((x, d) =>
    x <= low ? Number.NEGATIVE_INFINITY : x >= high ? Number.POSITIVE_INFINITY : x / scene.perRateDraws[d],
  );
  const p = surface.interaction?.pValue;
  return {
    limit: {
      name: "nitrogen-from-data",
      kind,
      rate: at,
      stand: standOf(scene, at),
      interval: surface.vcov === null ? null : rangeInterval(drawn, rates, scene.level),
      basis: `On the surface fitted to density and nitrogen, yield is highest here at the field's nitrogen rate${p === undefined ? "" : ` (interaction p = ${p.toPrecision(2)})`}.`,
    },
    surface,
    notes,
  };
}

/** Best densities at the rate by draw; a draw without a turning point, or whose best density falls with nitrogen, does not cap. */
function drawnDensities(scene: Scene, surface: NitrogenSurface, rate: number): Float64Array {
  const { density, densitySquared, nitrogen, nitrogenSquared, densityNitrogen } = surface.coefficients;
  const centre = [density, densitySquared, nitrogen, nitrogenSquared, densityNitrogen];
  const factor = surface.vcov === null ? null : lowerFactor(surface.vcov);
  const random = streamRandom(scene.main.seed, streams.inputs + 60);
  return Float64Array.from({ length: scene.count }, () => {
    const step = factor === null ? null : timesFactor(factor, random, 1);
    const [b1, b2, , , d] = centre.map((value, j) => value + (step?.[j] ?? 0));
    return b2 < 0 && d > 0 ? (b1 + d * rate) / (-2 * b2) : Number.POSITIVE_INFINITY;
  });
}

function surfaceOf(scene: Scene, { trial }: RecommendOptions, notes: string[]): NitrogenSurface | null {
  const kept = scene.main.nitrogen ?? null;
  if (kept !== null || trial === undefined) return kept;
  const { hybrid, environment } = scene.main;
  const plots = trial.plots.filter(
    (plot) => plot.hybrid === hybrid && (environment === null || plot.environment === environment),
  );
  const { surface, reason } = nitrogenOf(plots);
  if (reason !== null) notes.push(reason);
  return surface;
}
