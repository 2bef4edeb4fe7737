import { pow, square } from "../core/elementary.ts";
import { chiSquareUpper, fUpper, tUpper } from "../numeric/distributions.ts";
import { type Check, type CheckInput, finished, notTested } from "./diagnoseCheck.ts";
import { shapiroWilk } from "./diagnoseNormality.ts";

/** Residuals over sqrt(1 - h), on the scale of one unit of weight; plots without room left out. */
function adjusted({ data, residuals, leverage }: CheckInput): { readonly plot: number; readonly e: number }[] {
  return Array.from(residuals, (r, plot) => ({
    plot,
    e: leverage[plot] < 1 - 1e-9 ? (r * Math.sqrt(data.weight[plot])) / Math.sqrt(1 - leverage[plot]) : Number.NaN,
  })).filter(({ e }) => !Number.isNaN(e));
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = Math.floor(sorted.length / 2);
  return sorted.length % 2 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
}

const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;

/**
 * One-way analysis of variance of the absolute deviations from each group's median.
 *
 * @returns null when fewer than two groups have two values, or the deviations do not vary within groups
 *
 * Source: Brown & Forsythe (1974), JASA 69, 364-367. Oracle: R 4.2.2, anova of absolute deviations.
 */
export function brownForsythe(
  groups: readonly (readonly number[])[],
): { readonly f: number; readonly dof: readonly [number, number]; readonly p: number } | null {
  const used = groups.filter((values) => values.length >= 2);
  if (used.length < 2) return null;
  const deviations = used.map((values) => values.map((value) => Math.abs(value - median(values))));
  const all = mean(deviations.flat());
  let between = 0;
  let within = 0;
  for (const own of deviations) {
    const centre = mean(own);
    between += own.length * square(centre - all);
    for (const value of own) within += square(value - centre);
  }
  const dof = [used.length - 1, deviations.flat().length - used.length] as const;
  if (!(within > 0) || dof[1] < 1) return null;
  const f = between / dof[0] / (within / dof[1]);
  return { f, dof, p: fUpper(f, dof[0], dof[1]) };
}

/** Degrees of freedom of the common variance in a density's own: keeps weights of few plots from running wild. Our convention. */
const PRIOR = 4;

/** Scatter by density: Brown-Forsythe test; its effect is a refit with weights from each density's own scatter. */
export function spreadByDensity(input: CheckInput): Check {
  const { data, fit, alpha } = input;
  const { level, levels } = data.design;
  const groups = Array.from(levels, (): number[] => []);
  for (const { plot, e } of adjusted(input)) groups[level[plot]].push(e);
  const test = brownForsythe(groups);
  if (test === null) return notTested("spread-by-density", "scatter by density: too few plots of one density");
  const s2 = (fit.rss as number) / fit.dofResidual;
  const variance = groups.map((own) => (PRIOR * s2 + own.reduce((sum, e) => sum + e * e, 0)) / (PRIOR + own.length));
  const spread = groups.map((own) => Math.sqrt(own.reduce((sum, e) => sum + e * e, 0) / Math.max(own.length, 1)));
  const widest = spread.indexOf(Math.max(...spread));
  const narrowest = spread.indexOf(Math.min(...spread));
  const decision = input.again({ weight: data.weight.map((w, i) => (w * s2) / variance[level[i]]) });
  return finished(
    "spread-by-density",
    { name: "F", value: test.f, dof: test.dof },
    test.p,
    alpha,
    test.p < alpha
      ? `plots scatter unequally: most at ${levels[widest]}, least at ${levels[narrowest]}`
      : "plots scatter about equally at all densities",
    input.effect("weighted by each density's own scatter", decision),
  );
}

/**
 * Scatter against fitted values: n R^2 of squared residuals on fitted values (chi-square on 1 degree of freedom); its effect is a
 * refit in which scatter grows with the fitted yield.
 *
 * Source: Koenker (1981), Journal of Econometrics 17, 107-112.
 */
export function spreadByFitted(input: CheckInput): Check {
  const { data, fitted, alpha } = input;
  const rows = adjusted(input);
  const squares = rows.map(({ e }) => e * e);
  const values = rows.map(({ plot }) => fitted[plot]);
  const [ms, mv] = [mean(squares), mean(values)];
  const sxx = values.reduce((sum, v) => sum + square(v - mv), 0);
  const syy = squares.reduce((sum, s) => sum + square(s - ms), 0);
  const sxy = values.reduce((sum, v, i) => sum + (v - mv) * (squares[i] - ms), 0);
  if (!(sxx > 1e-18 * mv * mv * rows.length) || !(syy > 0)) {
    return notTested("spread-by-fitted", "scatter against fitted values: all fitted values are the same");
  }
  const statistic = (rows.length * sxy * sxy) / (sxx * syy);
  const p = chiSquareUpper(statistic, 1);
  const positive = fitted.every((value) => value > 0);
  // Downwards scatter cannot be proportional to yield; then weights go with the yield itself.
  const power = sxy > 0 ? -2 : 2;
  const decision = positive ? input.again({ weight: data.weight.map((w, i) => w * pow(fitted[i] / mv, power)) }) : null;
  return finished(
    "spread-by-fitted",
    { name: "chi-square", value: statistic, dof: [1] },
    p,
    alpha,
    p < alpha ? `scatter ${sxy > 0 ? "grows" : "shrinks"} with yield` : "scatter does not change with yield",
    positive
      ? input.effect(`weighted as if scatter ${sxy > 0 ? "grew" : "shrank"} in proportion to yield`, decision)
      : null,
  );
}

/** Huber's constant: 95 % efficiency under normal errors. Source: Huber (1981), Robust Statistics. */
const HUBER = 1.345;
const ROUNDS = 10;

/** Normality of the residuals: Shapiro-Wilk; its effect is a refit in which far-off plots count less. */
export function normalityCheck(input: CheckInput): Check {
  const { data, alpha } = input;
  const rows = adjusted(input);
  if (rows.length < 3 || rows.length > 5000) {
    return notTested("normality", `normality: the test takes 3 to 5000 plots, here ${rows.length}`);
  }
  const test = shapiroWilk(rows.map(({ e }) => e));
  if (test === null) return notTested("normality", "normality: all residuals are the same");
  return finished(
    "normality",
    { name: "W", value: test.w, dof: [rows.length] },
    test.p,
    alpha,
    test.p < alpha ? "residuals are not normally distributed" : "residuals look normal",
    input.effect("with far-off plots counting less (Huber)", robust(input, data.weight)),
  );
}

/** Huber weights of the chosen curve's residuals against their median absolute deviation, a few rounds of reweighting. */
function robust(input: CheckInput, weight: Float64Array): ReturnType<CheckInput["again"]> {
  let current = weight;
  let decision = input.again({ weight });
  let residuals = input.residuals;
  for (let round = 0; round < ROUNDS; round++) {
    const sizes = Array.from(residuals, (r, i) => Math.abs(r) * Math.sqrt(weight[i]));
    const scale = median(sizes) / 0.6745;
    if (!(scale > 0)) break;
    current = weight.map((w, i) => w * Math.min(1, (HUBER * scale) / Math.max(sizes[i], 1e-300)));
    const next = input.refit(current);
    if (next === null) break;
    decision = next.decision;
    residuals = next.residuals;
  }
  return decision;
}

/** Outliers: externally studentised residuals with Bonferroni's correction; the effect is that of leaving them out. */
export function outlierCheck(input: CheckInput): Check {
  const { data, fit, studentised, alpha } = input;
  const known = Array.from(studentised, (t, plot) => ({ t, plot })).filter(({ t }) => !Number.isNaN(t));
  if (known.length === 0 || fit.dofResidual < 2) {
    return notTested("outliers", "outliers: too few residual degrees of freedom");
  }
  const p = ({ t }: { t: number }): number => Math.min(2 * tUpper(Math.abs(t), fit.dofResidual - 1) * known.length, 1);
  known.sort((a, b) => Math.abs(b.t) - Math.abs(a.t));
  const flagged = known.filter((row) => p(row) < alpha);
  const shown = flagged.length > 0 ? flagged : known.slice(0, 1);
  const out = new Set(shown.map(({ plot }) => plot));
  const keep = Array.from(data.x, (_, i) => i).filter((i) => !out.has(i));
  const labels = shown.map(({ plot }) => input.labels[plot]);
  const names = `${labels.length > 1 ? "plots" : "plot"} ${labels.join(", ")}`;
  return finished(
    "outliers",
    { name: "t", value: known[0].t, dof: [fit.dofResidual - 1] },
    p(known[0]),
    alpha,
    flagged.length > 0
      ? `${names} ${labels.length > 1 ? "lie" : "lies"} farther from the curve than chance explains`
      : `no plot lies farther from the curve than chance explains (${names} most)`,
    input.effect(`without ${names}`, input.again({ keep })),
    shown.map(({ plot }) => plot + 1),
  );
}
