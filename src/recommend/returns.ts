import { goldenSection } from "../numeric/goldenSection.ts";
import { meanOf, quantileOf } from "./figure.ts";
import type { LodgingSide } from "./lodgingSide.ts";
import type { Attitude } from "./recommendOptions.ts";
import type { Scene } from "./scene.ts";

/** Money of a field at any rate. */
export interface Returns {
  /** Return of every draw at a rate into `out`; `fed`: no more yield than the field can feed. */
  draws(rate: number, fed: boolean, out: Float64Array): Float64Array;
  yields(rate: number, fed: boolean, out: Float64Array): Float64Array;
  /** What the attitude maximises. */
  worth(rate: number): number;
}

/**
 * Net price x harvested yield - seed cost x rate by draw; lodged plants lose their stated share.
 *
 * `worth` is the mean (expected attitude) or a lower quantile (chance attitude) over the draws. Seed cost enters as a straight
 * line in the rate, so a dearer seed can only lower the best rate under the expected attitude.
 */
export function returnsOf(
  scene: Scene,
  lodging: LodgingSide,
  supported: Float64Array | null,
  attitude: Attitude,
): Returns {
  const { count, net, seedCost, field } = scene;
  const loss = field.lossPerLodgedPlant ?? 0;
  const share = loss > 0 ? lodging.share : null;
  const buffer = new Float64Array(count);
  const known = new Map<number, number>();

  function yields(rate: number, fed: boolean, out: Float64Array): Float64Array {
    for (let d = 0; d < count; d++) {
      let grain = scene.yieldAt(d, rate);
      if (fed && supported !== null && grain > supported[d]) grain = supported[d];
      out[d] = share === null ? grain : grain * (1 - loss * share(d, rate));
    }
    return out;
  }
  function draws(rate: number, fed: boolean, out: Float64Array): Float64Array {
    yields(rate, fed, out);
    for (let d = 0; d < count; d++) out[d] = net[d] * out[d] - seedCost[d] * rate;
    return out;
  }
  return {
    draws,
    yields,
    worth(rate) {
      const before = known.get(rate);
      if (before !== undefined) return before;
      draws(rate, false, buffer);
      const value = attitude.kind === "expected" ? meanOf(buffer) : quantileOf(buffer.sort(), attitude.chance);
      known.set(rate, value);
      return value;
    },
  };
}

const CELLS = 100;

/** Rate of the highest worth on the tested range, to about a millionth of it; the lowest of equal ones. */
export function bestRate(worth: (rate: number) => number, [low, high]: readonly [number, number]): number {
  const at = (g: number): number => (g === CELLS ? high : low + ((high - low) * g) / CELLS);
  let best = 0;
  let most = worth(low);
  for (let g = 1; g <= CELLS; g++) {
    const value = worth(at(g));
    if (isMore(value, most)) {
      most = value;
      best = g;
    }
  }
  if (best === 0 || best === CELLS) return at(best);
  return goldenSection(worth, at(best - 1), at(best + 1), 200, 1e-7 * (high - low)).middle;
}

/** Differences below rounding noise do not count, so that units cannot decide between equal rates. */
export function isMore(value: number, than: number): boolean {
  return value > than + 1e-9 * (1 + Math.abs(than));
}
