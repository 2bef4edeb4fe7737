import { square } from "../core/elementary.ts";
import { fUpper } from "../numeric/distributions.ts";
import { crossLabels, type Factor, type Stratum, type VarianceRow } from "./analyseStrata.ts";
import { indexLevels } from "./randomTerm.ts";

/**
 * The strata of complete, equally replicated blocks (in one or several environments) from sums of cells alone.
 *
 * With U(S) = sum over the cells of factors S of (sum of yields)^2 / plots, SS(S) = sum over subsets T of S of
 * (-1)^(|S| - |T|) U(T). Same answer as `analyseStrata` where both apply; cost linear in plots, so it carries the large trials.
 *
 * @param blocks - nuisance groupings, each finer than the one before; fitted first
 *
 * Source: Searle (1971), Linear Models, section 7.2.
 */
export function balancedStrata(
  yields: ArrayLike<number>,
  treatments: readonly Factor[],
  blocks: readonly Factor[],
): Stratum[] {
  const n = yields.length;
  const mean = Array.from(yields).reduce((sum, y) => sum + y, 0) / n;
  const squares = (factors: readonly Factor[]): { u: number; cells: number } => {
    if (factors.length === 0) return { u: 0, cells: 1 };
    const { levels, index } = indexLevels(crossLabels(factors));
    const sum = new Float64Array(levels.length);
    const count = new Float64Array(levels.length);
    for (let i = 0; i < n; i++) {
      sum[index[i]] += yields[i] - mean;
      count[index[i]]++;
    }
    return { u: sum.reduce((total, v, c) => total + (v * v) / count[c], 0), cells: levels.length };
  };
  let total = 0;
  for (let i = 0; i < n; i++) total += square(yields[i] - mean);

  const strata: Stratum[] = [];
  let used = 0;
  let dofUsed = 1;
  blocks.forEach((block) => {
    const { u, cells } = squares([block]);
    if (cells === dofUsed) return;
    strata.push({ name: block.name, rows: [line(block.name, cells - dofUsed, Math.max(0, u - used))] });
    used = u;
    dofUsed = cells;
  });
  const masks = Array.from({ length: (1 << treatments.length) - 1 }, (_, i) => i + 1);
  const pick = (mask: number): Factor[] => treatments.filter((_, i) => mask & (1 << i));
  masks.sort((a, b) => pick(a).length - pick(b).length);
  const u = new Map<number, number>([[0, 0]]);
  for (const mask of masks) u.set(mask, squares(pick(mask)).u);
  const levels = treatments.map((factor) => squares([factor]).cells);
  const rows: VarianceRow[] = [];
  let spent = used;
  let dofSpent = dofUsed;
  for (const mask of masks) {
    const own = pick(mask);
    // Effects that the blocks already hold (environments) add nothing.
    if (own.length === 1 && blocks.some((block) => block.name === own[0].name)) continue;
    let ss = 0;
    for (let sub = mask; ; sub = (sub - 1) & mask) {
      const sign = (own.length - pick(sub).length) % 2 === 0 ? 1 : -1;
      ss += sign * (u.get(sub) as number);
      if (sub === 0) break;
    }
    const df = own.reduce((product, factor) => product * (levels[treatments.indexOf(factor)] - 1), 1);
    rows.push(line(own.map(({ name }) => name).join(" x "), df, Math.max(0, ss)));
    spent += Math.max(0, ss);
    dofSpent += df;
  }
  const df = n - dofSpent;
  if (df > 0) {
    const residual = line("residual", df, Math.max(0, total - spent));
    const tested = rows.map((row) => {
      if (!(residual.ms > 1e-24 * total)) return row;
      const f = row.ms / residual.ms;
      return { ...row, f, p: fUpper(f, row.df, df) };
    });
    strata.push({ name: "plots", rows: [...tested, residual] });
  } else strata.push({ name: "plots", rows });
  return strata;
}

function line(source: string, df: number, ss: number): VarianceRow {
  return { source, df, ss, ms: ss / df, f: null, p: null };
}
