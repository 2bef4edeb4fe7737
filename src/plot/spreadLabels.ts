/**
 * Moves labels apart so that none covers another: each stays as near its place as the others allow, in their order.
 *
 * @param places - wanted positions, any order
 * @param gap - smallest distance, same unit
 * @param range - where labels may stand
 * @returns positions in the order of `places`
 */
export function spreadLabels(places: readonly number[], gap: number, [low, high]: readonly [number, number]): number[] {
  const order = places.map((_, i) => i).sort((a, b) => places[a] - places[b]);
  const room = Math.min(gap, order.length > 1 ? (high - low) / (order.length - 1) : gap);
  const at = order.map((i) => Math.min(Math.max(places[i], low), high));
  // Clusters that overlap take the mean of their wishes and are merged until all stand apart.
  let groups = at.map((place) => ({ sum: place, size: 1 }));
  const middle = (group: { sum: number; size: number }): number => {
    const half = ((group.size - 1) * room) / 2;
    return Math.min(Math.max(group.sum / group.size, low + half), high - half);
  };
  for (let merged = true; merged; ) {
    merged = false;
    const next: typeof groups = [];
    for (const group of groups) {
      const last = next[next.length - 1];
      if (
        last &&
        middle(last) + ((last.size - 1) * room) / 2 + room > middle(group) - ((group.size - 1) * room) / 2 + 1e-12
      ) {
        next[next.length - 1] = { sum: last.sum + group.sum, size: last.size + group.size };
        merged = true;
      } else next.push(group);
    }
    groups = next;
  }
  const result: number[] = places.map(() => 0);
  let k = 0;
  for (const group of groups) {
    for (let j = 0; j < group.size; j++) result[order[k++]] = middle(group) + (j - (group.size - 1) / 2) * room;
  }
  return result;
}
