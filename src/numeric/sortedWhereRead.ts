/** Values in ascending order, of which a few ranks are read. */
export interface SortedValues {
  readonly size: number;
  /** Value of a 0-based rank, 0 <= rank < size. */
  at(rank: number): number;
  /** How many values are smaller. */
  below(value: number): number;
}

/** Values a bucket on average, and most buckets: their counts stay in the fastest memory. */
const BUCKET = 16;
const MOST_BUCKETS = 4096;

/**
 * Ranks of a large sample without sorting it: values go into buckets of equal width by one counting pass, and a bucket is sorted when
 * a rank in it is first read. A percentile interval reads ten ranks, so nearly all of the sort is saved; the values read are those of the
 * whole sort, bit by bit, as rounding keeps the order of (value - least) * scale.
 *
 * @param values - no NaN; not changed
 * @param size - how many of them count; default all
 * @example
 * const sample = sortedWhereRead(Float64Array.of(3, 1, 2));
 * sample.at(1); // => 2
 * sample.below(2.5); // => 2
 */
export function sortedWhereRead(values: Float64Array, size: number = values.length): SortedValues {
  let least = Number.POSITIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < size; i++) {
    const value = values[i];
    if (value < least) least = value;
    if (value > most) most = value;
  }
  const wanted = Math.min(Math.ceil(size / BUCKET), MOST_BUCKETS);
  const width = wanted / (most - least);
  const spread = width > 0 && width < Number.POSITIVE_INFINITY;
  const buckets = spread ? wanted : 1;
  const scale = spread ? width : 0;
  const origin = spread ? least : 0;

  // `end` counts one bucket further on, so that moving the values in turns the starts into ends.
  const end = new Int32Array(buckets + 1);
  for (let i = 0; i < size; i++) end[bucketOf(values[i], origin, scale, buckets) + 1]++;
  for (let b = 1; b <= buckets; b++) end[b] += end[b - 1];
  const ordered = new Float64Array(size);
  for (let i = 0; i < size; i++) ordered[end[bucketOf(values[i], origin, scale, buckets)]++] = values[i];
  const isSorted = new Uint8Array(buckets);

  return {
    size,
    at(rank) {
      let b = 0;
      for (let high = buckets - 1; b < high; ) {
        const middle = (b + high) >> 1;
        if (end[middle] > rank) high = middle;
        else b = middle + 1;
      }
      if (isSorted[b] === 0) {
        ordered.subarray(b > 0 ? end[b - 1] : 0, end[b]).sort();
        isSorted[b] = 1;
      }
      return ordered[rank];
    },
    below(value) {
      let count = 0;
      for (let i = 0; i < size; i++) if (ordered[i] < value) count++;
      return count;
    },
  };
}

function bucketOf(value: number, origin: number, scale: number, buckets: number): number {
  // With one bucket the scale is 0, and Infinity times 0 is no number: it goes to bucket 0 by the `| 0`.
  const b = ((value - origin) * scale) | 0;
  return b < buckets ? b : buckets - 1;
}
