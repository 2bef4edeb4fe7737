import { existsSync } from "node:fs";
import { expect, test } from "vitest";

interface Cell {
  readonly quality: string;
  readonly lost: Record<string, number[]>;
}
interface Bench {
  regret(trials: number): Cell[];
  summary(values: number[]): { mean: number; error: number };
}

/** The simulation runs on the build, as `node bench/regret.mjs` does. */
const built = existsSync(new URL("../../dist/recommend/recommendRate.js", import.meta.url));
const slow = process.env["STANDCURVE_SLOW"] === "1";

test.runIf(slow && built)(
  "over trials of every quality the recommendation loses no more money than the best of three simple rules",
  async () => {
    const path = "../../bench/regret.mjs";
    const { regret, summary } = (await import(path)) as Bench;
    const cells = regret(60);
    for (const quality of new Set(cells.map((cell) => cell.quality))) {
      const own = cells.filter((cell) => cell.quality === quality);
      const mean = (rule: string): number => summary(own.flatMap(({ lost }) => lost[rule])).mean;
      const rival = Math.min(...["highest-yielding tested", "quadratic optimum", "fixed 32,000"].map(mean));
      expect(mean("recommendation"), quality).toBeLessThanOrEqual(rival);
    }
  },
);
