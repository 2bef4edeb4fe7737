import { pow } from "../core/elementary.ts";
import { applyTranspose, factorise, norm, solveUpper } from "./householder.ts";
import { type Budget, moved, type Point, type Rows, relativeSize } from "./nonlinearRows.ts";

/** Minimum of |r - J d|^2 + damping |D d|^2 with D the lengths of the columns; null when J is not finite. */
function dampedStep(
  columns: readonly Float64Array[],
  residuals: Float64Array,
  lengths: Float64Array,
  damping: number,
): Float64Array {
  const n = residuals.length;
  const p = columns.length;
  const extended = columns.map((column, j) => {
    const out = new Float64Array(n + p);
    out.set(column);
    out[n + j] = Math.sqrt(damping) * lengths[j];
    return out;
  });
  const f = factorise(extended, 1e-15);
  const target = new Float64Array(n + p);
  target.set(residuals);
  applyTranspose(f, target);
  solveUpper(f, target);
  const step = new Float64Array(p);
  for (let k = 0; k < f.rank; k++) step[f.pivot[k]] = target[k] * f.scale[f.pivot[k]];
  return step;
}

/** Damped steps with Nielsen's rule, until they gain next to nothing. */
export function dampedSteps(
  rows: Rows,
  from: Point,
  budget: Budget,
  firstDamping: number,
  scaling: "longest" | "current",
): Point {
  let best = from;
  let damping = firstDamping;
  let growth = 2;
  const lengths = new Float64Array(rows.p);
  let columns: Float64Array[] | null = null;
  let quiet = 0;
  while (budget.left > 20 && best.rss > 0) {
    if (!columns) {
      budget.left--;
      columns = rows.derivatives(best.theta);
      if (!columns) return best;
      // lengths that only grow (More 1978) keep a flat stretch from setting a parameter free; current ones bend with the valley
      columns.forEach((column, j) => {
        lengths[j] = Math.max(scaling === "longest" ? lengths[j] : 0, norm(column)) || 1;
      });
    }
    const straight = dampedStep(columns, best.residuals, lengths, damping);
    const step = curvedStep(rows, best, columns, lengths, damping, straight);
    const next = rows.at(moved(best.theta, step, 1));
    const predicted = predictedGain(columns, best.residuals, straight);
    const gain = next ? best.rss - next.rss : -1;
    if (next && gain > 0) {
      const ratio = gain / Math.max(predicted, gain * 1e-3);
      damping = Math.max(damping * Math.max(1 / 3, 1 - pow(2 * ratio - 1, 3)), 1e-14);
      growth = 2;
      quiet = gain < 1e-9 * best.rss ? quiet + 1 : 0;
      best = next;
      columns = null;
      if (quiet >= 3) return best;
    } else {
      if (predicted <= 1e-14 * best.rss || relativeSize(step, best.theta) < 1e-15 || damping > 1e30) return best;
      damping *= growth;
      growth *= 2;
    }
  }
  return best;
}

/**
 * The step bent along the valley by the second derivative of the mean in its direction, when that bend is small against the
 * step; otherwise the step as it is.
 *
 * Source: Transtrum & Sethna (2012), Improvements to the Levenberg-Marquardt algorithm, arXiv:1201.5885, section 4.
 */
function curvedStep(
  rows: Rows,
  from: Point,
  columns: readonly Float64Array[],
  lengths: Float64Array,
  damping: number,
  step: Float64Array,
): Float64Array {
  const h = 0.1;
  const probe = rows.at(moved(from.theta, step, h));
  if (!probe) return step;
  const second = new Float64Array(rows.n);
  for (let i = 0; i < rows.n; i++) {
    let along = 0;
    for (let j = 0; j < rows.p; j++) along += columns[j][i] * step[j];
    second[i] = (2 / h) * ((probe.residuals[i] - from.residuals[i]) / h + along);
  }
  const bend = dampedStep(columns, second, lengths, damping);
  const size = (v: Float64Array): number => norm(v.map((d, j) => d * lengths[j]));
  return 2 * size(bend) <= 0.75 * size(step) ? step.map((s, j) => s + bend[j] / 2) : step;
}

/** |r|^2 - |r - J d|^2. */
function predictedGain(columns: readonly Float64Array[], residuals: Float64Array, step: Float64Array): number {
  let gain = 0;
  for (let i = 0; i < residuals.length; i++) {
    let change = 0;
    for (let j = 0; j < step.length; j++) change += columns[j][i] * step[j];
    gain += change * (2 * residuals[i] - change);
  }
  return gain;
}
