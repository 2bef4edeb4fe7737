import { log, pow, square } from "../core/elementary.ts";
import type { RandomStream } from "../core/random.ts";

/**
 * A chi-square random number with `dof` degrees of freedom, dof an integer >= 0 (0 gives 0).
 *
 * Few degrees of freedom are squares of normals added up; more use the gamma generator by squeeze.
 *
 * Source: Marsaglia & Tsang (2000), ACM Transactions on Mathematical Software 26(3), 363-372.
 */
export function chiSquareDraw(dof: number, random: RandomStream): number {
  if (dof <= 4) {
    let sum = 0;
    for (let i = 0; i < dof; i++) sum += square(random.normal());
    return sum;
  }
  const d = dof / 2 - 1 / 3;
  const c = 1 / Math.sqrt(9 * d);
  for (;;) {
    const x = random.normal();
    const v = pow(1 + c * x, 3);
    if (v <= 0) continue;
    const u = random.next();
    const x2 = x * x;
    if (u < 1 - 0.0331 * x2 * x2 || log(u) < x2 / 2 + d * (1 - v + log(v))) return 2 * d * v;
  }
}
