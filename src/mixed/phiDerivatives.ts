import { dot, multiply, multiplyTransposed, multiplyVector, traceProduct, transpose } from "../numeric/matrix.ts";
import type { Crossproducts } from "./crossproducts.ts";
import { applyElement, clusterScore, patternF, patternH, phiElements } from "./patternProducts.ts";
import type { RemlPoint } from "./remlPoint.ts";

/** Derivatives with respect to the elements of the relative covariances Gamma ("phi"), and what they are made of. */
export interface PhiDerivatives {
  /** d logLik / d phi, profiled over fixed effects and sigma; shape [k]. */
  readonly gradient: Float64Array;
  /** d2 logLik / d phi2, profiled; row-major [k * k]. */
  readonly hessian: Float64Array;
  /** tr(P V_i), shape [k]. */
  readonly trace: Float64Array;
  /** tr(P V_i P V_j), [k * k]. */
  readonly traceTwo: Float64Array;
  /** y'P V_i P y, [k]. */
  readonly quadratic: Float64Array;
  /** y'P V_i P V_j P y, [k * k]. */
  readonly quadraticTwo: Float64Array;
  /** W' Vb^-1 V_i Vb^-1 W for each element of a nested term, else null; [m * m] each. */
  readonly inner: readonly (Float64Array | null)[];
}

/**
 * Exact first and second derivatives of the profiled criterion by the covariance elements, from the cross-products alone.
 *
 * With V_i the derivative of V by element i and P the projector of the fit: d logLik = -1/2 [tr(P V_i) - y'P V_i P y / s2];
 * d2 = 1/2 tr(P V_i P V_j) - y'P V_i P V_j P y / s2 + (y'P V_i P y)(y'P V_j P y) / (2 s2^2 dof). Under maximum likelihood the
 * traces use V^-1 for P.
 *
 * Source: Lindstrom & Bates (1988), JASA 83, 1014-1022; Gilmour, Thompson & Cullis (1995), Biometrics 51, 1440-1450.
 */
export function phiDerivatives(data: Crossproducts, point: Omit<RemlPoint, "phi">, reml: boolean): PhiDerivatives {
  const { n, p, g, m, patterns, crossed } = data;
  const elements = phiElements(data);
  const count = elements.length;
  // Traces use P under REML and V^-1 under ML: the two differ only in K.
  const kTrace = reml ? point.k : new Float64Array(m * m);
  if (!reml) for (let i = 0; i < g; i++) for (let j = 0; j < g; j++) kTrace[i * m + j] = point.tg[i * g + j];

  const trace = new Float64Array(count);
  const traceTwo = new Float64Array(count * count);
  const quadratic = new Float64Array(count);
  const quadraticTwo = new Float64Array(count * count);
  const inner: (Float64Array | null)[] = elements.map(() => null);
  // H'E_i u summed over clusters, [m] per element.
  const carried = elements.map(() => new Float64Array(m));

  patterns.forEach((pattern, index) => {
    const { q, blocks, clusters } = pattern;
    if (q === 0) return;
    const state = point.states[index];
    const f = patternF(pattern, state);
    const h = patternH(pattern, state, m);
    const hk = multiply(h, kTrace, q, m, m);
    const nn = multiply(hk, transpose(h, q, m), q, m, q);
    const times = clusters.length;
    const local = elements.map((element) => blocks.find((block) => block.term === element.term));
    for (let i = 0; i < count; i++) {
      const block = local[i];
      if (block === undefined) continue;
      const { a, b } = elements[i];
      const scale = a === b ? 0.5 : 1;
      const x = inner[i] ?? new Float64Array(m * m);
      inner[i] = x;
      for (const offset of block.offsets) {
        const ra = offset + a;
        const rb = offset + b;
        trace[i] += 2 * scale * times * f[ra * q + rb];
        addOuterProducts(x, h, ra * m, rb * m, m, times);
      }
      for (let j = 0; j <= i; j++) {
        const other = local[j];
        if (other === undefined) continue;
        const { a: c, b: d } = elements[j];
        const scaleTwo = scale * (c === d ? 0.5 : 1);
        let sum = 0;
        for (const o1 of block.offsets) {
          const ra = o1 + a;
          const rb = o1 + b;
          for (const o2 of other.offsets) {
            const rc = o2 + c;
            const rd = o2 + d;
            // tr(E_i F E_j (F - 2 N)), N = H K H'
            sum +=
              f[rb * q + rc] * (f[rd * q + ra] - 2 * nn[rd * q + ra]) +
              f[rb * q + rd] * (f[rc * q + ra] - 2 * nn[rc * q + ra]) +
              f[ra * q + rc] * (f[rd * q + rb] - 2 * nn[rd * q + rb]) +
              f[ra * q + rd] * (f[rc * q + rb] - 2 * nn[rc * q + rb]);
          }
        }
        traceTwo[i * count + j] += times * scaleTwo * sum;
      }
    }
    // Per cluster: u = Z'Py and the products with E_i u.
    const eu = elements.map(() => new Float64Array(q));
    const euSum = elements.map(() => new Float64Array(q));
    clusters.forEach((cluster, at) => {
      const u = clusterScore(pattern, state, h, cluster.zy, point.gzy[index][at], point.kwy);
      for (let i = 0; i < count; i++) {
        const block = local[i];
        if (block === undefined) continue;
        const v = eu[i];
        v.fill(0);
        const { a, b } = elements[i];
        for (const offset of block.offsets) {
          v[offset + a] += u[offset + b];
          if (a !== b) v[offset + b] += u[offset + a];
        }
        quadratic[i] += dot(u, v);
        const total = euSum[i];
        for (let r = 0; r < q; r++) total[r] += v[r];
      }
      for (let j = 0; j < count; j++) {
        if (local[j] === undefined) continue;
        const fv = multiplyVector(f, eu[j], q, q);
        for (let i = j; i < count; i++) if (local[i] !== undefined) quadraticTwo[i * count + j] += dot(eu[i], fv);
      }
    });
    for (let i = 0; i < count; i++) {
      if (local[i] === undefined) continue;
      for (let r = 0; r < q; r++) for (let s = 0; s < m; s++) carried[i][s] += h[r * m + s] * euSum[i][r];
    }
  });

  for (const x of inner) if (x !== null) mirrorLower(x, m);

  // Crossed terms: Zg'P Zg, Zg'P y, and R with Ze'P Zg = He R.
  const ek = multiply(point.e, kTrace, m, m, m);
  const eke = multiply(ek, point.e, m, m, m);
  const gg = new Float64Array(g * g);
  const r = new Float64Array(m * g);
  const ke = transpose(ek, m, m);
  for (let i = 0; i < g; i++) for (let j = 0; j < g; j++) gg[i * g + j] = point.e[i * m + j] - eke[i * m + j];
  for (let i = 0; i < m; i++) for (let j = 0; j < g; j++) r[i * g + j] = (i === j ? 1 : 0) - ke[i * m + j];
  const ug = new Float64Array(g);
  for (let i = 0; i < g; i++) {
    let sum = point.ey[i];
    for (let j = 0; j < m; j++) sum -= point.e[i * m + j] * point.kwy[j];
    ug[i] = sum;
  }
  const hosts = elements.map((element) => crossed.find((block) => block.term === element.term) ?? null);
  // y-quantities of crossed terms use the P of the fit, so they need their own R when ML changes the traces.
  const kOwn = reml ? ke : transpose(multiply(point.e, point.k, m, m, m), m, m);
  const rOwn = reml ? r : new Float64Array(m * g);
  const ggOwn = reml ? gg : new Float64Array(g * g);
  if (!reml && g > 0) {
    const full = multiply(transpose(kOwn, m, m), point.e, m, m, m);
    for (let i = 0; i < g; i++) for (let j = 0; j < g; j++) ggOwn[i * g + j] = point.e[i * m + j] - full[i * m + j];
    for (let i = 0; i < m; i++) for (let j = 0; j < g; j++) rOwn[i * g + j] = (i === j ? 1 : 0) - kOwn[i * m + j];
  }
  const kx = inner.map((x) => (x === null ? null : multiply(kTrace, x, m, m, m)));
  const kCarried = carried.map((v) => multiplyVector(point.k, v, m, m));
  // E_i (Zg'P Zg), E_i u_g of crossed elements; R'X_i R and R'(sum of H'E_i u) of nested ones.
  const egg = hosts.map((host, i) => (host === null ? null : applyElement(host.offsets, elements[i], gg, g, g)));
  const eug = hosts.map((host, i) => (host === null ? null : applyElement(host.offsets, elements[i], ug, g, 1)));
  const through = inner.map((x) =>
    x === null || g === 0 ? null : multiplyTransposed(r, multiply(x, r, m, m, g), m, g, g),
  );
  const carriedG = carried.map((v, i) => (inner[i] === null ? null : multiplyTransposed(rOwn, v, m, g, 1)));
  for (let i = 0; i < count; i++) {
    if (inner[i] !== null) trace[i] -= traceOf(kx[i]!, m);
    if (hosts[i] !== null) {
      trace[i] += traceOf(egg[i]!, g);
      quadratic[i] += dot(ug, eug[i]!);
    }
    for (let j = 0; j <= i; j++) {
      let t2 = 0;
      let q2 = 0;
      if (hosts[i] === null && hosts[j] === null) {
        if (kx[i] !== null && kx[j] !== null) t2 = traceProduct(kx[i]!, kx[j]!, m);
        q2 = -dot(carried[i], kCarried[j]);
      } else if (hosts[i] !== null && hosts[j] !== null) {
        t2 = traceProduct(egg[i]!, egg[j]!, g);
        q2 = dot(eug[i]!, multiplyVector(ggOwn, eug[j]!, g, g));
      } else {
        const nestedAt = hosts[i] === null ? i : j;
        const crossedAt = hosts[i] === null ? j : i;
        if (through[nestedAt] !== null) {
          t2 = traceOf(applyElement(hosts[crossedAt]!.offsets, elements[crossedAt], through[nestedAt], g, g), g);
          q2 = dot(eug[crossedAt]!, carriedG[nestedAt]!);
        }
      }
      traceTwo[i * count + j] += t2;
      quadraticTwo[i * count + j] += q2;
      traceTwo[j * count + i] = traceTwo[i * count + j];
      quadraticTwo[j * count + i] = quadraticTwo[i * count + j];
    }
  }

  const { sigma2 } = point;
  const dof = reml ? n - p : n;
  const gradient = new Float64Array(count);
  const hessian = new Float64Array(count * count);
  for (let i = 0; i < count; i++) {
    gradient[i] = -0.5 * (trace[i] - quadratic[i] / sigma2);
    for (let j = 0; j < count; j++) {
      hessian[i * count + j] =
        0.5 * traceTwo[i * count + j] -
        quadraticTwo[i * count + j] / sigma2 +
        (0.5 * quadratic[i] * quadratic[j]) / (sigma2 * sigma2 * dof);
    }
  }
  return { gradient, hessian, trace, traceTwo, quadratic, quadraticTwo, inner };
}

/** Lower triangle of x += times (u v' + v u'), once when u and v are the same row of h. */
function addOuterProducts(x: Float64Array, h: Float64Array, u: number, v: number, m: number, times: number): void {
  const both = u === v ? 0.5 * times : times;
  for (let r = 0; r < m; r++) {
    const hu = both * h[u + r];
    const hv = both * h[v + r];
    const row = r * m;
    for (let s = 0; s <= r; s++) x[row + s] += hu * h[v + s] + hv * h[u + s];
  }
}

function mirrorLower(x: Float64Array, m: number): void {
  for (let r = 0; r < m; r++) for (let s = 0; s < r; s++) x[s * m + r] = x[r * m + s];
}

function traceOf(a: Float64Array, n: number): number {
  let sum = 0;
  for (let i = 0; i < n; i++) sum += a[i * n + i];
  return sum;
}
