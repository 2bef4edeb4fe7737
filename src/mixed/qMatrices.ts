import { multiply, multiplyTransposed, slice, transpose } from "../numeric/matrix.ts";
import { applyElement, patternF, patternH } from "./patternProducts.ts";
import type { RemlModel } from "./remlModel.ts";
import { crossedToFixed, throughCrossed, type VarianceParameters } from "./varianceParameters.ts";

/** X'V^-1 V_i V^-1 V_j V^-1 X for all pairs of covariance elements; size (k + 1)^2 with the last row and column unset. */
export function qMatrices(model: RemlModel, { elements }: VarianceParameters): Float64Array[] {
  const { data, optimum } = model;
  const { g, p, m, crossed } = data;
  const { point } = optimum;
  const k = elements.length;
  const size = k + 1;
  const out: Float64Array[] = Array.from({ length: size * size }, () => new Float64Array(p * p));
  const r = throughCrossed(model);
  const ngx = crossedToFixed(model);
  const sgg = slice(point.e, m, [0, g], [0, g]);
  const tsgg = multiply(point.tg, sgg, g, g, g);
  const ngg = multiply(sgg, tsgg, g, g, g).map((v, i) => sgg[i] - v);
  // Ze'V^-1 Zg = He [I - T Sgg; 0].
  const rg = new Float64Array(m * g);
  for (let i = 0; i < g; i++) for (let j = 0; j < g; j++) rg[i * g + j] = (i === j ? 1 : 0) - tsgg[i * g + j];

  const hosts = elements.map((element) => crossed.find(({ term }) => term === element.term));
  const inner = elements.map(() => new Float64Array(m * m));
  data.patterns.forEach((pattern, index) => {
    const { q, blocks, clusters } = pattern;
    if (q === 0) return;
    const f = patternF(pattern, point.states[index]);
    const h = patternH(pattern, point.states[index], m);
    const hx = multiply(h, r, q, m, p);
    const eh = elements.map((element) => {
      const block = blocks.find(({ term }) => term === element.term);
      return block === undefined ? null : applyElement(block.offsets, element, hx, q, p);
    });
    const ehm = elements.map((element) => {
      const block = blocks.find(({ term }) => term === element.term);
      return block === undefined ? null : applyElement(block.offsets, element, h, q, m);
    });
    for (let i = 0; i < k; i++) {
      const left = eh[i];
      if (left === null) continue;
      const own = multiplyTransposed(h, ehm[i]!, q, m, m);
      for (let s = 0; s < m * m; s++) inner[i][s] += clusters.length * own[s];
      for (let j = 0; j < k; j++) {
        const right = eh[j];
        if (right === null) continue;
        const product = multiplyTransposed(left, multiply(f, right, q, q, p), q, p, p);
        const target = out[i * size + j];
        for (let s = 0; s < p * p; s++) target[s] += clusters.length * product[s];
      }
    }
  });
  for (let i = 0; i < k; i++) {
    for (let j = 0; j < k; j++) {
      const target = out[i * size + j];
      const hi = hosts[i];
      const hj = hosts[j];
      if (hi === undefined && hj === undefined) {
        if (g === 0) continue;
        // Nested with nested, through the crossed terms: - Xi[:, g] T Xj[g, :].
        const ri = multiplyTransposed(r, slice(inner[i], m, [0, m], [0, g]), m, p, g);
        const rj = multiply(slice(inner[j], m, [0, g], [0, m]), r, g, m, p);
        const product = multiply(ri, multiply(point.tg, rj, g, g, p), p, g, p);
        for (let s = 0; s < p * p; s++) target[s] -= product[s];
      } else if (hi !== undefined && hj !== undefined) {
        const left = applyElement(hi.offsets, elements[i], ngx, g, p);
        const right = applyElement(hj.offsets, elements[j], ngx, g, p);
        const product = multiplyTransposed(left, multiply(ngg, right, g, g, p), g, p, p);
        for (let s = 0; s < p * p; s++) target[s] += product[s];
      } else {
        const crossedAt = hi !== undefined ? i : j;
        const nestedAt = hi !== undefined ? j : i;
        const host = hosts[crossedAt]!;
        const en = applyElement(host.offsets, elements[crossedAt], ngx, g, p);
        // N_gx' E_g (Rg' X_nested R)
        const through = multiplyTransposed(rg, multiply(inner[nestedAt], r, m, m, p), m, g, p);
        const product = multiplyTransposed(en, through, g, p, p);
        const oriented = crossedAt === i ? product : transpose(product, p, p);
        for (let s = 0; s < p * p; s++) target[s] += oriented[s];
      }
    }
  }
  return out;
}
