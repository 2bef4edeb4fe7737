import type { AnalyzeOptions } from "../../src/analyze/options.ts";
import { analyzeTrial, readTrial, streamRandom, type Trial, type TrialAnalysis } from "../../src/index.ts";

export interface SampleOptions {
  readonly rates?: readonly number[];
  readonly blocks?: number;
  readonly sigma?: number;
  readonly blockSigma?: number;
  readonly establishment?: number;
  readonly seed?: number;
  /** Logit of the lodged share at a stand; default: no counts. */
  readonly logit?: (stand: number) => number;
  readonly environments?: readonly string[];
  readonly hybrids?: readonly string[];
}

/** An invented trial with a known truth: yield (bu/ac) over stand (1000 plants/ac). */
export function sampleTrial(truth: (stand: number) => number, options: SampleOptions = {}): Trial {
  const {
    rates = [18, 23, 28, 33, 38, 43],
    blocks = 4,
    sigma = 5,
    blockSigma = sigma,
    establishment = 0.95,
    seed = 1,
    environments = ["East 2031"],
    hybrids = ["Amber 12"],
  } = options;
  const random = streamRandom(seed, 7);
  const rows: Record<string, unknown>[] = [];
  for (const hybrid of hybrids) {
    for (const environment of environments) {
      for (let block = 1; block <= blocks; block++) {
        const shift = blockSigma * random.normal();
        for (const rate of rates) {
          const stand = rate * establishment;
          const row: Record<string, unknown> = {
            hybrid,
            site: environment.split(" ")[0],
            year: environment.split(" ")[1],
            block,
            seeding_rate_k_ac: rate,
            stand_k_ac: stand,
            yield_bu_ac: truth(stand) + shift + sigma * random.normal(),
          };
          if (options.logit !== undefined) {
            const share = 1 / (1 + Math.exp(0 - options.logit(stand)));
            let lodged = 0;
            for (let plant = 0; plant < 100; plant++) if (random.next() < share) lodged++;
            row["stalk_lodged"] = lodged;
            row["plants_examined"] = 100;
          }
          rows.push(row);
        }
      }
    }
  }
  const { trial, issues } = readTrial(rows);
  if (trial === null) throw new Error(issues.map(({ message }) => message).join("\n"));
  return trial;
}

export const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 } as const;

/** The analysis as another program would get it: through JSON. */
export function analysed(trial: Trial, options: AnalyzeOptions = {}): TrialAnalysis {
  return JSON.parse(JSON.stringify(analyzeTrial(trial, { resamples: 0, prices, ...options }))) as TrialAnalysis;
}

export const parabola =
  (top: number, best: number, bend: number) =>
  (x: number): number =>
    top - bend * (x - best) ** 2;
