import { check } from "../core/errors.ts";
import type { InnerFamily } from "../curves/family.ts";
import { fitPrepared } from "../fit/fitCurve.ts";
import { fitRows } from "../fit/leverage.ts";
import { type CurveDraws, emptyDraws, weightedRefit } from "./curveDraws.ts";
import type { PreparedIntervalData } from "./intervalData.ts";
import { fixedLayout } from "./replicator.ts";
import { residualSampler } from "./sampler.ts";

/**
 * Replicates from resample indices made elsewhere, so that a bootstrap of other software can be repeated exactly.
 *
 * `case`: plot numbers. `cluster`: numbers of the data's clusters, in order of first appearance. `residual`: numbers of the
 * residual that each plot gets, raw residuals centred and not adjusted for leverage.
 *
 * @param indices - 0-based; shape [B][n], or [B][number of clusters]
 * @throws AnalysisError `not-offered` when clusters are asked for and the data have none
 */
export function givenDraws(
  data: PreparedIntervalData,
  families: readonly InnerFamily[],
  scheme: "case" | "cluster" | "residual",
  indices: readonly (readonly number[])[],
): CurveDraws {
  const draws = emptyDraws(indices.length);
  if (scheme === "residual") {
    const rows = fitRows(data, fitPrepared(families[0], data));
    const mean = rows.residuals.reduce((sum, value) => sum + value, 0) / rows.residuals.length;
    const pool = rows.residuals.map((value, i) => (value - mean) * Math.sqrt(data.weight[i]));
    const sampler = residualSampler(data, rows, pool);
    let given = 0;
    const machine = fixedLayout(data, families, {
      ...sampler,
      draw: () => sampler.drawGiven(indices[given]),
    });
    for (; given < indices.length; given++) machine.next(draws, given);
    return draws;
  }
  const { cluster } = data;
  check(scheme === "case" || cluster !== null, "not-offered", "these data have no clusters to draw");
  const of = scheme === "case" || cluster === null ? Int32Array.from(data.x, (_, i) => i) : cluster.of;
  const refit = weightedRefit(data, families);
  indices.forEach((drawn, i) => {
    const times = new Int32Array(data.x.length);
    for (const unit of drawn) times[unit]++;
    refit(
      Int32Array.from(of, (unit) => times[unit]),
      draws,
      i,
    );
  });
  return draws;
}
