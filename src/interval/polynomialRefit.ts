import type { PreparedData } from "../fit/fitData.ts";
import type { RefitKernel } from "../numeric/refitKernel.ts";

/** Refit of flat, line and parabola to reweighted plots: what the kernel gives, without laying out the plateau curves. */
export interface PolynomialRefit extends Pick<RefitKernel, "gain" | "shape"> {
  /** @returns total sum of squares within blocks */
  fit(weight: ArrayLike<number>, blockCount: Float64Array): number;
  /** Means over blocks, each counted `blockCount` times: yield, u and u^2. */
  readonly mean: { grand: number; u: number; v: number };
}

/**
 * Blocks without weight drop out. Deviations from block means are taken before multiplying, so nothing cancels.
 *
 * @param data - plots; their own weights are not used, `fit` is given all of them
 */
export function polynomialRefit({ x, y, block, design }: PreparedData): PolynomialRefit {
  const { blocks, low, span } = design;
  const n = x.length;
  const u = x.map((value) => (value - low) / span);
  const v = u.map((value) => value * value);
  const total = new Float64Array(blocks);
  const meanY = new Float64Array(blocks);
  const meanU = new Float64Array(blocks);
  const meanV = new Float64Array(blocks);
  const gain = new Float64Array(5);
  const shape = new Float64Array(7);
  const mean = { grand: 0, u: 0, v: 0 };

  function fit(weight: ArrayLike<number>, blockCount: Float64Array): number {
    total.fill(0);
    meanY.fill(0);
    meanU.fill(0);
    meanV.fill(0);
    for (let i = 0; i < n; i++) {
      const b = block[i];
      const w = weight[i];
      total[b] += w;
      meanY[b] += w * y[i];
      meanU[b] += w * u[i];
      meanV[b] += w * v[i];
    }
    let count = 0;
    mean.grand = mean.u = mean.v = 0;
    for (let b = 0; b < blocks; b++) {
      if (total[b] === 0) continue;
      meanY[b] /= total[b];
      meanU[b] /= total[b];
      meanV[b] /= total[b];
      count += blockCount[b];
      mean.grand += blockCount[b] * meanY[b];
      mean.u += blockCount[b] * meanU[b];
      mean.v += blockCount[b] * meanV[b];
    }
    mean.grand /= count;
    mean.u /= count;
    mean.v /= count;

    let [yy, uu, uv, vv, t1, t2] = [0, 0, 0, 0, 0, 0];
    for (let i = 0; i < n; i++) {
      const w = weight[i];
      if (w === 0) continue;
      const b = block[i];
      const dy = y[i] - meanY[b];
      const du = u[i] - meanU[b];
      const dv = v[i] - meanV[b];
      yy += w * dy * dy;
      uu += w * du * du;
      uv += w * du * dv;
      vv += w * dv * dv;
      t1 += w * du * dy;
      t2 += w * dv * dy;
    }
    const line = uu > 0 ? t1 / uu : 0;
    const share = uu > 0 ? uv / uu : 0;
    const rest = vv - share * uv;
    const left = t2 - share * t1;
    const bend = rest > 1e-14 * vv ? left / rest : 0;
    gain[1] = line * t1;
    gain[2] = gain[1] + bend * left;
    shape[0] = line;
    shape[1] = line - share * bend;
    shape[2] = bend;
    return yy;
  }

  return { fit, gain, shape, mean };
}
