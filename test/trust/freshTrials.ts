import { streamRandom } from "../../src/core/random.ts";

/** Random trials for a comparison with other software; everything follows from the seed. */
export interface FreshTrials {
  readonly curves: readonly { density: number[]; yield: number[]; block: string[]; truth: string }[];
  readonly lodging: readonly { density: number[]; lodged: number[]; examined: number[]; block: string[] }[];
  readonly mixed: readonly { yield: number[]; z: number[]; environment: string[]; block: string[]; hybrid: string[] }[];
  readonly bootstrap: readonly { density: number[]; yield: number[]; seed: number }[];
  readonly tails: readonly { fn: "t" | "f" | "chi2" | "beta"; x: number; p: number; a: number; b: number }[];
}

const truths: Readonly<Record<string, (u: number) => number>> = {
  linear: (u) => 8 + 3 * u,
  quadratic: (u) => 8 + 9 * u - 6 * u * u,
  "linear-plateau": (u) => 8 + 6 * Math.min(u, 0.55),
  "quadratic-plateau": (u) => 12 - 9 * Math.max(0.6 - u, 0) ** 2,
};

/** Trials of 4 to 7 densities in 3 to 6 blocks with lost plots, lodging counts, networks and arguments of distributions. */
export function freshTrials(seed: number): FreshTrials {
  const random = streamRandom(seed, 0);
  const { below, next, normal } = random;
  const between = (low: number, high: number): number => low + below(high - low + 1);
  const round = (value: number, decimals: number): number => Number(value.toFixed(decimals));

  const curves = Array.from({ length: 12 }, (_, k) => {
    const truth = Object.keys(truths)[k % 4];
    const levels = between(4, 7);
    const steps = Array.from({ length: levels }, (_, i) => round(4 + i * (6 / levels) + 0.3 * next(), 2));
    const noise = 0.1 + 0.5 * next();
    const plots = Array.from({ length: between(3, 6) }, (_, b) => ({
      name: `B${b + 1}`,
      effect: 0.6 * normal(),
    })).flatMap(({ name, effect }) =>
      steps.map((x, i) => ({
        name,
        x,
        y: round(truths[truth](i / (levels - 1)) + effect + noise * normal(), 3),
        // One plot in twelve is lost, never one of the first block.
        lost: name !== "B1" && below(12) === 0,
      })),
    );
    const kept = plots.filter(({ lost }) => !lost);
    return {
      truth,
      density: kept.map(({ x }) => x),
      yield: kept.map(({ y }) => y),
      block: kept.map(({ name }) => name),
    };
  });

  const lodging = Array.from({ length: 6 }, () => {
    const steps = Array.from({ length: between(4, 6) }, (_, i) => round(5 + i + 0.2 * next(), 2));
    const slope = 0.4 + 0.6 * next();
    const plots = Array.from({ length: 4 }, (_, b) => ({ name: `B${b + 1}`, effect: 0.4 * normal() })).flatMap(
      ({ name, effect }) =>
        steps.map((x) => {
          const share = 1 / (1 + Math.exp(-(-1.2 + slope * (x - 7.5) + effect)));
          const examined = between(30, 80);
          const lodged = Array.from({ length: examined }, () => (next() < share ? 1 : 0)).reduce<number>(
            (a, v) => a + v,
            0,
          );
          return { name, x, examined, lodged };
        }),
    );
    return {
      density: plots.map(({ x }) => x),
      lodged: plots.map(({ lodged }) => lodged),
      examined: plots.map(({ examined }) => examined),
      block: plots.map(({ name }) => name),
    };
  });

  const mixed = Array.from({ length: 3 }, () => {
    const hybrids = Array.from({ length: 8 }, (_, h) => ({ hybrid: `H${h + 1}`, ofHybrid: normal() }));
    const rows = Array.from({ length: 7 }, (_, e) => ({ environment: `E${e + 1}`, ofSite: 1.5 * normal() })).flatMap(
      (site) =>
        Array.from({ length: 3 }, (_, b) => ({
          block: `${site.environment}B${b + 1}`,
          ofBlock: 0.7 * normal(),
        })).flatMap((block) =>
          hybrids.flatMap((hybrid) => [-1, -0.3, 0.4, 1].map((z) => ({ ...site, ...block, ...hybrid, z }))),
        ),
    );
    const kept = rows.filter(() => below(10) > 0);
    return {
      yield: kept.map((r) =>
        round(11 + 0.8 * r.z - 0.9 * r.z * r.z + r.ofSite + r.ofBlock + r.ofHybrid + 0.8 * normal(), 3),
      ),
      z: kept.map(({ z }) => z),
      environment: kept.map(({ environment }) => environment),
      block: kept.map(({ block }) => block),
      hybrid: kept.map(({ hybrid }) => hybrid),
    };
  });

  const bootstrap = Array.from({ length: 2 }, () => {
    const density = Array.from({ length: 24 }, (_, i) => 4 + (i % 6));
    return {
      density,
      yield: density.map((x) => round(12 - 0.5 * (x - 6.8) ** 2 + 0.3 * normal(), 3)),
      seed: between(1, 1e6),
    };
  });

  const tails = Array.from({ length: 60 }, (_, i) => {
    const fn = (["t", "f", "chi2", "beta"] as const)[i % 4];
    const [a, b] = [round(1 + 30 * next(), 1), round(1 + 60 * next(), 1)];
    const x = fn === "beta" ? next() : fn === "t" ? 8 * next() : fn === "f" ? 10 * next() : a + 20 * next();
    return { fn, a, b, x, p: 0.001 + 0.998 * next() };
  });
  return { curves, lodging, mixed, bootstrap, tails };
}
