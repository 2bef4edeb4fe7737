import { dot2 } from "./doubleDouble.ts";
import { applyTranspose, factorise, norm, solveUpper } from "./householder.ts";
import { type Budget, moved, type Point, type Rows, relativeSize } from "./nonlinearRows.ts";

/** A Gauss-Newton step with what it says about the distance to the minimum. */
export interface GaussNewtonStep {
  readonly step: Float64Array;
  readonly columns: readonly Float64Array[];
  readonly rank: number;
  /** Length of the residuals' projection on the derivatives. */
  readonly projection: number;
}

function gaussNewtonStep(rows: Rows, point: Point): GaussNewtonStep | null {
  const columns = rows.derivatives(point.theta);
  if (!columns) return null;
  const f = factorise(columns, 1e-14);
  const target = Float64Array.from(point.residuals);
  applyTranspose(f, target);
  const projection = norm(target.subarray(0, f.rank));
  solveUpper(f, target);
  const step = new Float64Array(rows.p);
  for (let k = 0; k < f.rank; k++) step[f.pivot[k]] = target[k] * f.scale[f.pivot[k]];
  return { step, columns, rank: f.rank, projection };
}

export interface Polished {
  readonly point: Point;
  readonly newton: GaussNewtonStep | null;
  /** Relative size of the full step that is still open at the end. */
  readonly open: number;
}

/**
 * Gauss-Newton with step halving; near the minimum, where the sum of squares no longer tells points apart, a step counts
 * when it shortens the projection of the residuals on the derivatives.
 */
export function polish(rows: Rows, from: Point, budget: Budget): Polished {
  let point = from;
  let newton = gaussNewtonStep(rows, point);
  for (let i = 0; i < 60 && newton && budget.left > 0; i++) {
    let taken = false;
    for (let share = 1; share > 1e-4; share /= 2) {
      const next = rows.at(moved(point.theta, newton.step, share));
      if (!next) continue;
      if (next.rss < point.rss * (1 - 1e-10)) {
        budget.left--;
        point = next;
        newton = gaussNewtonStep(rows, point);
        taken = true;
        break;
      }
      if (share === 1 && next.rss <= point.rss * (1 + 1e-8)) {
        budget.left--;
        const after = gaussNewtonStep(rows, next);
        if (after && after.projection < newton.projection) {
          point = next;
          newton = after;
          taken = true;
          break;
        }
      }
    }
    if (!taken) break;
  }
  if (!newton) return { point, newton, open: 1 };
  const open = relativeSize(newton.step, point.theta);
  // large residuals on a bent surface slow Gauss-Newton down or make it swing: then the full second derivatives finish
  if (newton.rank < rows.p || open < 1e-13 || budget.left < 2 * rows.p + 8) return { point, newton, open };
  return newtonSteps(rows, point, newton, budget) ?? { point, newton, open };
}

/**
 * Newton steps on the gradient in coordinates where the derivatives are orthonormal. Its Jacobian comes from central
 * differences of the exact gradient, taken once: so close to the minimum it hardly changes.
 */
function newtonSteps(rows: Rows, from: Point, start: GaussNewtonStep, budget: Budget): Polished | null {
  const { p } = rows;
  const f = factorise(start.columns, 0);
  const directions = Array.from({ length: p }, (_, k) => {
    const z = new Float64Array(p);
    z[k] = 1;
    solveUpper(f, z);
    const direction = new Float64Array(p);
    for (let j = 0; j < p; j++) direction[f.pivot[j]] = z[j] * f.scale[f.pivot[j]];
    return direction;
  });
  const gradientAt = (point: Point | null): Float64Array | null => {
    const columns = point && rows.derivatives(point.theta);
    budget.left--;
    if (!point || !columns) return null;
    const raw = columns.map((column) => dot2(column, point.residuals));
    return Float64Array.from(directions, (direction) => dot2(direction, raw));
  };
  // a ten-thousandth of a standard error, but never more than that share of a parameter: errors may be huge
  const error = (1e-4 * Math.sqrt(from.rss)) / Math.sqrt(Math.max(rows.n - p, 1));
  const slopes: Float64Array[] = [];
  for (const direction of directions) {
    const h = Math.min(error, 1e-4 / relativeSize(direction, from.theta));
    const high = gradientAt(rows.at(moved(from.theta, direction, h)));
    const low = gradientAt(rows.at(moved(from.theta, direction, -h)));
    if (!high || !low) return null;
    slopes.push(high.map((v, k) => (low[k] - v) / (2 * h)));
  }
  const inverse = factorise(slopes, 1e-10);
  if (inverse.rank < p) return null;
  const correction = (gradient: Float64Array): Float64Array => {
    const z = Float64Array.from(gradient);
    applyTranspose(inverse, z);
    solveUpper(inverse, z);
    const step = new Float64Array(p);
    for (let k = 0; k < p; k++) {
      const j = inverse.pivot[k];
      for (let i = 0; i < p; i++) step[i] += z[k] * inverse.scale[j] * directions[j][i];
    }
    return step;
  };
  let point = from;
  let gradient = gradientAt(point);
  let open = Infinity;
  for (let i = 0; i < 8 && gradient; i++) {
    const step = correction(gradient);
    const size = relativeSize(step, point.theta);
    if (!(size < open / 2)) break;
    open = size;
    const next = rows.at(moved(point.theta, step, 1));
    if (!next || next.rss > point.rss * (1 + 1e-12)) break;
    const after = gradientAt(next);
    if (!after || !(norm(after) <= norm(gradient))) break;
    point = next;
    gradient = after;
  }
  const newton = gaussNewtonStep(rows, point);
  return newton && point !== from ? { point, newton, open } : null;
}
