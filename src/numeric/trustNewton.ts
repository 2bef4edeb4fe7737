import { dot, multiplyVector } from "./matrix.ts";
import { symmetricEigen } from "./symmetricEigen.ts";

/** A point of a smooth function: its value, and on demand its exact first and second derivatives. */
export interface NewtonPoint {
  readonly value: number;
  /** Gradient, shape [n], and Hessian, row-major [n * n]. */
  derivatives(): { readonly gradient: Float64Array; readonly hessian: Float64Array };
}

export interface NewtonResult<P extends NewtonPoint> {
  readonly x: Float64Array;
  readonly point: P;
  readonly iterations: number;
  readonly converged: boolean;
}

/**
 * Minimum of a smooth function of few variables by Newton steps inside a trust radius.
 *
 * The step uses the absolute eigenvalues of the Hessian, -V |D|^-1 V'g, so that a saddle repels and a flat direction
 * without slope is left alone. A step is kept only when the value falls. Converged: the predicted fall is below
 * 1e-15 of the value's size and the last full Newton step was taken, or no step can lower the value any more.
 *
 * @param evaluate - value and derivatives at x; null where the function does not exist (the step is shortened)
 * @param start - shape [n]; not changed
 * @param maxIterations - default 100
 * @param stopAt - asked after every step; true ends the search there (the caller knows the rest of the way)
 *
 * Source: Nocedal & Wright (2006), Numerical Optimization, 2nd ed., sections 3.4 and 4.1.
 */
export function minimiseNewton<P extends NewtonPoint>(
  evaluate: (x: Float64Array) => P | null,
  start: Float64Array,
  maxIterations = 100,
  stopAt: (x: Float64Array, point: P) => boolean = () => false,
): NewtonResult<P> | null {
  const n = start.length;
  let x = start.slice();
  let point = evaluate(x);
  if (point === null) return null;
  if (n === 0) return { x, point, iterations: 0, converged: true };
  let radius = 1;
  let polish = 0;
  for (let iteration = 1; iteration <= maxIterations; iteration++) {
    const { gradient, hessian } = point.derivatives();
    const { values, vectors } = symmetricEigen(hessian, n);
    const floor = 1e-12 * Math.max(1e-300, Math.abs(values[0]), Math.abs(values[n - 1]));
    const step = new Float64Array(n);
    for (let j = 0; j < n; j++) {
      let along = 0;
      for (let i = 0; i < n; i++) along += vectors[i * n + j] * gradient[i];
      const size = -along / Math.max(Math.abs(values[j]), floor);
      for (let i = 0; i < n; i++) step[i] += size * vectors[i * n + j];
    }
    const newtonLength = Math.sqrt(dot(step, step));
    const scale = Math.max(1, Math.sqrt(dot(x, x)));
    const decrement = -0.5 * dot(gradient, step);
    if (!(newtonLength > 1e-13 * scale)) return { x, point, iterations: iteration, converged: true };
    const ceiling = 1e-15 * Math.max(1, Math.abs(point.value));
    let moved = false;
    for (let attempt = 0; attempt < 40; attempt++) {
      const fraction = Math.min(1, radius / newtonLength);
      const trial = x.map((xi, i) => xi + fraction * step[i]);
      const next = evaluate(trial);
      const taken = step.map((s) => s * fraction);
      const predicted = -(dot(gradient, taken) + 0.5 * dot(taken, multiplyVector(hessian, taken, n, n)));
      const fall = next === null ? Number.NaN : point.value - next.value;
      // Near the minimum the value has no digits left to judge a step by: let the last Newton steps pass on trust.
      const negligible = Math.abs(predicted) < 64 * ceiling && fraction === 1;
      if (next !== null && (fall > 0 || (negligible && fall > -1e3 * ceiling))) {
        if (fall > 0.75 * predicted && fraction < 1) radius *= 3;
        else if (fall < 0.25 * predicted && !negligible) radius = Math.max(1e-12, 0.5 * fraction * newtonLength);
        x = trial;
        point = next;
        moved = true;
        if (negligible) polish++;
        break;
      }
      radius = 0.25 * fraction * newtonLength;
      if (radius < 1e-14 * scale) break;
    }
    if (moved && stopAt(x, point)) return { x, point, iterations: iteration, converged: true };
    if (!moved || polish >= 3) {
      return { x, point, iterations: iteration, converged: decrement < 1e-9 * Math.max(1, Math.abs(point.value)) };
    }
  }
  return { x, point, iterations: maxIterations, converged: false };
}
