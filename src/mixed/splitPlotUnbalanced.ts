import { fUpper } from "../numeric/distributions.ts";
import { cellParts } from "./adjustedMeans.ts";
import { crossLabels, dummies, type Factor } from "./analyseStrata.ts";
import type { EffectTest } from "./effectTests.ts";
import { kenwardRoger } from "./kenwardRoger.ts";
import { type MeanTable, meanTable } from "./meanTable.ts";
import { indexLevels, type RandomTerm } from "./randomTerm.ts";
import { solveReml } from "./remlModel.ts";
import { satterthwaite } from "./satterthwaite.ts";
import type { VariancePlots } from "./varianceData.ts";

/**
 * Tests and means of a split plot with missing plots: cell means by REML with random blocks and main plots, contrasts
 * among them with Kenward-Roger degrees of freedom. Effects are of equally weighted cell means; a factor with empty
 * cells has no mean over the other.
 */
export function splitPlotUnbalanced(
  plots: VariancePlots,
  treatments: readonly Factor[],
  block: Factor,
  mainPlot: Factor,
  environment: Factor | null,
  level: number,
): { tests: EffectTest[]; means: MeanTable[]; polynomial: null } {
  const { levels: cells, index } = indexLevels(crossLabels(treatments));
  const x = dummies(Array.from(index, (c) => cells[c]));
  const random: RandomTerm[] = [
    { name: "block", group: block.labels },
    { name: "main plot", group: mainPlot.labels },
  ];
  if (environment !== null) {
    random.unshift({ name: "environment", group: environment.labels });
    for (const factor of treatments) {
      random.push({ name: `environment x ${factor.name}`, group: crossLabels([environment, factor]) });
    }
  }
  const model = solveReml({ y: plots.yield, x, names: cells, terms: random });
  const small = kenwardRoger(model) ?? satterthwaite(model);
  const p = cells.length;
  const parts = cellParts(p, index, treatments);
  const tests: EffectTest[] = [];
  const means: MeanTable[] = [];
  const weightsOf = (factor: number): { levels: string[]; rows: (Float64Array | null)[] } => {
    const levels = [...new Set(parts.map((part) => part[factor]))];
    if (treatments[factor].name === "density") levels.sort((a, b) => Number(a) - Number(b));
    const others = new Set(parts.map((part) => part[1 - factor])).size;
    const rows = levels.map((name) => {
      const own = parts.flatMap((part, c) => (part[factor] === name ? [c] : []));
      if (own.length < others) return null;
      const row = new Float64Array(p);
      for (const c of own) row[c] = 1 / own.length;
      return row;
    });
    return { levels, rows };
  };
  const add = (source: string, contrasts: Float64Array[]): void => {
    const l = new Float64Array(contrasts.length * p);
    contrasts.forEach((row, i) => {
      l.set(row, i * p);
    });
    const { f, df1, df2 } = small.test(l, contrasts.length);
    const against = small.method === "kenward-roger" ? "mixed model, Kenward-Roger" : "mixed model, Satterthwaite";
    tests.push({ source, f, df1, df2, p: df2 === null ? null : fUpper(f, df1, df2), against });
  };
  const minus = (a: Float64Array, b: Float64Array): Float64Array => a.map((v, i) => v - b[i]);
  const vcovOf = (a: Float64Array, b: Float64Array): number => {
    let sum = 0;
    for (let i = 0; i < p; i++) for (let j = 0; j < p; j++) sum += a[i] * small.vcov[i * p + j] * b[j];
    return sum;
  };
  treatments.forEach((factor, f) => {
    const { levels, rows } = weightsOf(f);
    const present = rows.filter((row) => row !== null);
    if (present.length > 1)
      add(
        factor.name,
        present.slice(1).map((row) => minus(row, present[0])),
      );
    const values = rows.map((row) =>
      row === null ? null : row.reduce((sum, w, c) => sum + w * model.coefficients[c], 0),
    );
    const labels = Array.from(factor.labels, String);
    const replication = levels.map((name) => labels.filter((label) => label === name).length);
    const dof = (i: number, j: number): number => small.df(minus(rows[i]!, rows[j]!)) ?? 1;
    means.push(meanTable(factor.name, levels, values, replication, (i, j) => vcovOf(rows[i]!, rows[j]!), dof, level));
  });
  const levelsOf = [0, 1].map((f) => [...new Set(parts.map((part) => part[f]))]);
  const at = (a: string, b: string): number => parts.findIndex((part) => part[0] === a && part[1] === b);
  const interaction: Float64Array[] = [];
  for (const a of levelsOf[0].slice(1)) {
    for (const b of levelsOf[1].slice(1)) {
      const quad = [at(a, b), at(levelsOf[0][0], b), at(a, levelsOf[1][0]), at(levelsOf[0][0], levelsOf[1][0])];
      if (quad.some((c) => c < 0)) continue;
      const row = new Float64Array(p);
      quad.forEach((c, i) => {
        row[c] += i === 0 || i === 3 ? 1 : -1;
      });
      interaction.push(row);
    }
  }
  if (interaction.length > 0) add("hybrid x density", interaction);
  return { tests, means, polynomial: null };
}
