/**
 * Least squares by the plainest route, for comparison: dense normal equations by Gaussian elimination with pivoting on a
 * design matrix of block dummies and shape columns. Slow, and independent of everything in src.
 */
export function plainRss(columns: readonly (readonly number[])[], y: readonly number[], w: readonly number[]): number {
  const p = columns.length;
  const a = columns.map((ci, i) => [
    ...columns.map((cj) => ci.reduce((sum, value, k) => sum + w[k] * value * cj[k], 0)),
    ci.reduce((sum, value, k) => sum + w[k] * value * y[k], 0),
    i,
  ]);
  const beta = new Array<number>(p).fill(0);
  const rows: { row: number[]; pivot: number }[] = [];
  const left = new Set(a.keys());
  const scale = Math.max(...a.map((row, i) => Math.abs(row[i])));
  for (let col = 0; col < p; col++) {
    let best = -1;
    for (const i of left) if (best < 0 || Math.abs(a[i][col]) > Math.abs(a[best][col])) best = i;
    if (best < 0 || Math.abs(a[best][col]) < 1e-11 * scale) continue;
    left.delete(best);
    rows.push({ row: a[best], pivot: col });
    for (const i of left) {
      const f = a[i][col] / a[best][col];
      for (let j = col; j <= p; j++) a[i][j] -= f * a[best][j];
    }
  }
  for (const { row, pivot } of rows.reverse()) {
    let value = row[p];
    for (let j = pivot + 1; j < p; j++) value -= row[j] * beta[j];
    beta[pivot] = value / row[pivot];
  }
  return y.reduce((sum, value, k) => {
    const fitted = columns.reduce((s, column, j) => s + beta[j] * column[k], 0);
    return sum + w[k] * (value - fitted) ** 2;
  }, 0);
}

/** Dummy columns of the blocks. */
export function dummies(block: readonly number[]): number[][] {
  return [...new Set(block)].map((b) => block.map((own) => (own === b ? 1 : 0)));
}
