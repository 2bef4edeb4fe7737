import type { ColumnMap } from "./columns.ts";
import type { Draft } from "./draft.ts";
import type { IssueLog } from "./issueLog.ts";
import { numberText } from "./numberText.ts";
import type { Plot } from "./trial.ts";

/** Notes about what the file does not say, which decides how its plots are grouped. */
export function reportMissingColumns({ byRole }: ColumnMap, log: IssueLog): void {
  if (!byRole.has("hybrid")) {
    log.add({
      severity: "note",
      code: "no-hybrid-column",
      rule: "no column names a hybrid, so all plots are read as one",
      remedy: "name the column with schema.columns { hybrid: … }, or the hybrid with schema.hybrid",
    });
  }
  if (!byRole.has("block") && !byRole.has("replicate")) {
    log.add({
      severity: "note",
      code: "no-block-column",
      rule: "no column names a block or replicate, so the plots of an environment are read as one block",
      remedy:
        "name it with schema.columns { block: … } if the trial had blocks: leaving them out hides their differences in the error",
    });
  }
  const stand = byRole.get("stand");
  if (stand !== undefined && !stand.sure && !byRole.has("seedingRate") && !byRole.has("targetDensity")) {
    log.add({
      severity: "note",
      code: "density-taken-as-stand",
      column: stand.header,
      rule: "this density is read as plants that grew, not as seeds dropped",
      remedy: `if it is the planter's rate, declare schema.columns { seedingRate: ${JSON.stringify(stand.header)} }`,
    });
  }
}

/** Without plot ids, several rows of one treatment in one block may be plots or sub-samples: only the user knows. */
export function reportRepeatedTreatments(drafts: readonly Draft[], log: IssueLog): void {
  const groups = new Map<string, { first: Draft; rows: number }>();
  let repeated = 0;
  let example: Draft | null = null;
  for (const draft of drafts) {
    if (draft.plot !== null || draft.excluded !== null) continue;
    const key = [draft.environment, draft.block, draft.hybrid, draft.seedingRate ?? draft.stand].join("\u0000");
    const group = groups.get(key);
    if (group === undefined) {
      groups.set(key, { first: draft, rows: 1 });
      continue;
    }
    group.rows += 1;
    repeated += group.rows === 2 ? 2 : 1;
    example ??= draft;
  }
  if (example === null) return;
  log.add({
    severity: "warning",
    code: "repeated-treatment",
    row: example.row,
    count: repeated,
    rule: `${numberText(repeated)} rows share environment, block, hybrid and density with another row (this one: ${example.environment}, block ${example.block}, ${example.hybrid}), and without a plot id they are read as separate plots`,
    remedy:
      "if they are sub-samples of one plot (yield-monitor points, several pickers), add a column of plot ids; if the trial had blocks, add those",
  });
}

/** What the design as read cannot carry, and figures that look wrong beside their neighbours. */
export function reportDesign(
  plots: readonly Plot[],
  hybrids: readonly string[],
  { byRole }: ColumnMap,
  log: IssueLog,
): void {
  const used = plots.filter((plot) => plot.excluded === null);
  if (used.length === 0) {
    log.add({
      severity: "error",
      code: "no-usable-plot",
      rule: "no row of this file can be used",
      remedy: "correct the errors listed here",
    });
    return;
  }
  if (byRole.has("block") || byRole.has("replicate")) reportBlocks(used, log);
  reportLevels(used, hybrids, log);
  reportEstablishment(used, byRole.get("stand")?.header ?? byRole.get("standCount")?.header ?? null, log);
}

function reportBlocks(used: readonly Plot[], log: IssueLog): void {
  const blocks = new Map<string, Set<string>>();
  for (const plot of used) {
    const set = blocks.get(plot.environment) ?? new Set<string>();
    blocks.set(plot.environment, set.add(plot.block));
  }
  for (const [environment, set] of blocks) {
    if (set.size > 1) continue;
    log.add({
      severity: "warning",
      code: "one-block",
      rule: `${environment} has one block only, so it tells nothing about how repeatable its results are`,
      remedy: "four to six blocks are usual; treat the result as a demonstration",
    });
  }
}

function reportLevels(used: readonly Plot[], hybrids: readonly string[], log: IssueLog): void {
  const levels = new Map<string, Set<number>>();
  for (const plot of used) {
    const level = plot.seedingRate ?? plot.density;
    const set = levels.get(plot.hybrid) ?? new Set<number>();
    levels.set(plot.hybrid, level === null ? set : set.add(level));
  }
  const few = hybrids.filter((hybrid) => (levels.get(hybrid)?.size ?? 0) < 3);
  if (few.length === hybrids.length && few.every((hybrid) => (levels.get(hybrid)?.size ?? 0) < 2)) {
    log.add({
      severity: "error",
      code: "one-density",
      rule: "no hybrid was grown at more than one density, so there is no response to estimate",
      remedy:
        "a density trial needs at least three densities, better five or six; check that the right column was read as density",
    });
    return;
  }
  for (const hybrid of few) {
    const count = levels.get(hybrid)?.size ?? 0;
    log.add({
      severity: "warning",
      code: "few-densities",
      rule: `${hybrid} was grown at ${count === 1 ? "one density" : `${count} densities`} only, and a curve with an optimum needs at least three`,
      remedy: count === 1 ? "it can be compared at that density but not fitted" : "only a straight line can be fitted",
    });
  }
}

function reportEstablishment(used: readonly Plot[], column: string | null, log: IssueLog): void {
  const byHybrid = new Map<string, { stand: number; rate: number }>();
  for (const plot of used) {
    if (plot.stand === null || plot.seedingRate === null) continue;
    const share = plot.stand / plot.seedingRate;
    if (share > 1.15) {
      log.add({
        severity: "warning",
        code: "stand-above-rate",
        row: plot.row,
        column,
        received: String(plot.stand),
        rule: `a stand of ${numberText(plot.stand, 4)} from ${numberText(plot.seedingRate, 4)} seeds means more plants than seeds`,
        remedy: "check both figures; it was used",
      });
    } else if (share < 0.6) {
      log.add({
        severity: "warning",
        code: "poor-stand",
        row: plot.row,
        column,
        received: String(plot.stand),
        rule: `only ${Math.round(share * 100)} % of the seeds grew on this plot`,
        remedy: "check both figures, and mark the plot excluded if it was damaged; it was used",
      });
    }
    const sums = byHybrid.get(plot.hybrid) ?? { stand: 0, rate: 0 };
    byHybrid.set(plot.hybrid, { stand: sums.stand + plot.stand, rate: sums.rate + plot.seedingRate });
  }
  const shares = [...byHybrid]
    .map(([hybrid, { stand, rate }]) => ({ hybrid, share: stand / rate }))
    .sort((a, b) => a.share - b.share);
  const low = shares[0];
  const high = shares.at(-1);
  // Five points is a convention: below it, hybrids share one density axis without harm.
  if (low === undefined || high === undefined || high.share - low.share < 0.05) return;
  log.add({
    severity: "warning",
    code: "establishment-differs",
    rule: `establishment differs between hybrids: ${Math.round(low.share * 100)} % of the seeds of ${low.hybrid} grew, ${Math.round(high.share * 100)} % of ${high.hybrid}`,
    remedy: 'the mean stand of a rate hides this; compare with schema.densityAxis "plot-stand"',
  });
}
