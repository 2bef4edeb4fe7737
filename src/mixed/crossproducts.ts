import type { TermLayout } from "./randomTerm.ts";

/** Where one random term sits inside a cluster: first column of each of its levels. */
export interface TermBlock {
  /** Index of the term in the model. */
  readonly term: number;
  /** First column of each level inside the cluster's Z (or inside the crossed columns). */
  readonly offsets: readonly number[];
}

/** Clusters that share the same design share everything except the response. */
export interface DesignPattern {
  /** Number of random-effect columns in a cluster. */
  readonly q: number;
  readonly blocks: readonly TermBlock[];
  /** Z'Z, shape [q * q]. */
  readonly zz: Float64Array;
  /** Z'W with W = [crossed random columns, X], shape [q * m]. */
  readonly zw: Float64Array;
  /** Clusters with this design. */
  readonly clusters: Cluster[];
}

/** One cluster (an environment, or a block when there is one environment). */
export interface Cluster {
  /** Z'y, shape [q]. */
  readonly zy: Float64Array;
  /** Level of each term block's levels, in the order of `offsets`; shape [blocks][levels]. */
  readonly levels: readonly (readonly number[])[];
}

/** Cross-products of a mixed model, grouped by cluster; every later step costs nothing per plot. */
export interface Crossproducts {
  readonly n: number;
  /** Number of fixed-effect columns. */
  readonly p: number;
  /** Number of columns of crossed random terms. */
  readonly g: number;
  /** g + p. */
  readonly m: number;
  readonly terms: readonly TermLayout[];
  readonly crossed: readonly TermBlock[];
  readonly patterns: readonly DesignPattern[];
  /** W'W over all rows, shape [m * m]. */
  readonly ww: Float64Array;
  /** W'y, shape [m]. */
  readonly wy: Float64Array;
  readonly yy: number;
}

/**
 * Cross-products Z'Z, Z'W, W'W, Z'y, W'y, y'y of a mixed model in one pass over the rows.
 *
 * The clusters are the levels of the term that leaves the fewest crossed columns: terms nested in it are handled
 * inside the clusters (small dense matrices), the others ride along with the fixed effects. Cost: linear in rows.
 *
 * @param x - fixed-effect columns, each [n]
 * @param y - response, [n]
 */
export function crossproducts(
  x: readonly Float64Array[],
  y: Float64Array,
  terms: readonly TermLayout[],
): Crossproducts {
  const n = y.length;
  const p = x.length;
  const host = chooseHost(terms);
  const nested = terms.map((term) => host !== null && isNested(term, host));
  const crossed: TermBlock[] = [];
  let g = 0;
  terms.forEach((term, t) => {
    if (nested[t]) return;
    crossed.push({ term: t, offsets: term.levels.map((_, l) => g + l * term.width) });
    g += term.levels.length * term.width;
  });
  const m = g + p;
  const ww = new Float64Array(m * m);
  const wy = new Float64Array(m);
  let yy = 0;

  const members: number[][] = host === null ? [Array.from({ length: n }, (_, i) => i)] : host.levels.map(() => []);
  if (host !== null) for (let i = 0; i < n; i++) members[host.index[i]].push(i);

  const patterns = new Map<string, DesignPattern[]>();
  const at = new Int32Array(m);
  const value = new Float64Array(m);
  for (const rows of members) {
    const blocks: TermBlock[] = [];
    const levels: number[][] = [];
    const place: (Map<number, number> | null)[] = terms.map(() => null);
    let q = 0;
    terms.forEach((term, t) => {
      if (!nested[t]) return;
      const seen = new Map<number, number>();
      for (const i of rows) {
        if (!seen.has(term.index[i])) {
          seen.set(term.index[i], q);
          q += term.width;
        }
      }
      place[t] = seen;
      blocks.push({ term: t, offsets: [...seen.values()] });
      levels.push([...seen.keys()]);
    });
    const zz = new Float64Array(q * q);
    const zw = new Float64Array(q * m);
    const zy = new Float64Array(q);
    const zAt = new Int32Array(terms.reduce((sum, term, t) => sum + (nested[t] ? term.width : 0), 0));
    const zValue = new Float64Array(zAt.length);
    for (const i of rows) {
      let nz = 0;
      let nw = 0;
      for (let t = 0; t < terms.length; t++) {
        const term = terms[t];
        const inside = place[t];
        for (let c = 0; c < term.width; c++) {
          const v = term.columns[c][i];
          if (v === 0) continue;
          if (inside !== null) {
            zAt[nz] = inside.get(term.index[i])! + c;
            zValue[nz++] = v;
          } else {
            at[nw] = crossed.find((block) => block.term === t)!.offsets[term.index[i]] + c;
            value[nw++] = v;
          }
        }
      }
      for (let c = 0; c < p; c++) {
        const v = x[c][i];
        if (v === 0) continue;
        at[nw] = g + c;
        value[nw++] = v;
      }
      const yi = y[i];
      yy += yi * yi;
      for (let a = 0; a < nw; a++) {
        wy[at[a]] += value[a] * yi;
        for (let b = 0; b < nw; b++) ww[at[a] * m + at[b]] += value[a] * value[b];
      }
      for (let a = 0; a < nz; a++) {
        zy[zAt[a]] += zValue[a] * yi;
        for (let b = 0; b < nz; b++) zz[zAt[a] * q + zAt[b]] += zValue[a] * zValue[b];
        for (let b = 0; b < nw; b++) zw[zAt[a] * m + at[b]] += zValue[a] * value[b];
      }
    }
    addToPattern(patterns, { q, blocks, zz, zw, clusters: [{ zy, levels }] });
  }
  return { n, p, g, m, terms, crossed, patterns: [...patterns.values()].flat(), ww, wy, yy };
}

/** Adds a cluster to the pattern with the very same design, or opens a new one. */
function addToPattern(patterns: Map<string, DesignPattern[]>, fresh: DesignPattern): void {
  let checksum = 0;
  for (let i = 0; i < fresh.zw.length; i++) checksum += fresh.zw[i] * ((i % 97) + 1);
  const key = `${fresh.q} ${checksum}`;
  const bucket = patterns.get(key);
  if (bucket === undefined) {
    patterns.set(key, [fresh]);
    return;
  }
  for (const known of bucket) {
    const same =
      equal(known.zz, fresh.zz) &&
      equal(known.zw, fresh.zw) &&
      known.blocks.every((block, k) => block.offsets.length === fresh.blocks[k].offsets.length);
    if (same) {
      known.clusters.push(fresh.clusters[0]);
      return;
    }
  }
  bucket.push(fresh);
}

function equal(a: Float64Array, b: Float64Array): boolean {
  if (a.length !== b.length) return false;
  for (let i = 0; i < a.length; i++) if (a[i] !== b[i]) return false;
  return true;
}

/** True when every level of `term` lies inside one level of `host`. */
function isNested(term: TermLayout, host: TermLayout): boolean {
  const parent = new Int32Array(term.levels.length).fill(-1);
  for (let i = 0; i < term.index.length; i++) {
    const level = term.index[i];
    if (parent[level] === -1) parent[level] = host.index[i];
    else if (parent[level] !== host.index[i]) return false;
  }
  return true;
}

/** The term whose levels make the best clusters; null when there is no random term. */
function chooseHost(terms: readonly TermLayout[]): TermLayout | null {
  let best: TermLayout | null = null;
  let fewest = Number.POSITIVE_INFINITY;
  for (const host of terms) {
    let columns = 0;
    for (const term of terms) if (!isNested(term, host)) columns += term.levels.length * term.width;
    if (columns < fewest || (columns === fewest && best !== null && host.levels.length > best.levels.length)) {
      best = host;
      fewest = columns;
    }
  }
  return best;
}
