/** The candidate a mistyped word was probably meant to be; null when none is near. */
export function suggestion(word: string, candidates: readonly string[]): string | null {
  const begins = candidates.filter((candidate) => word.length >= 3 && candidate.startsWith(word));
  if (begins.length === 1) return begins[0] ?? null;
  let best: string | null = null;
  let least = Math.max(1, Math.floor(word.length / 3)) + 1;
  for (const candidate of candidates) {
    const distance = editDistance(word, candidate);
    if (distance < least) {
      least = distance;
      best = candidate;
    }
  }
  return best;
}

/**
 * Letters to insert, delete, replace or swap with their neighbour to turn one word into the other.
 *
 * Source: Damerau (1964), Communications of the ACM 7, 171-176, in its restricted form.
 */
function editDistance(a: string, b: string): number {
  const rows: number[][] = [Array.from({ length: b.length + 1 }, (_, j) => j)];
  const at = (i: number, j: number): number => rows[i]?.[j] ?? 0;
  for (let i = 1; i <= a.length; i++) {
    rows.push([i]);
    for (let j = 1; j <= b.length; j++) {
      const same = a[i - 1] === b[j - 1];
      const swapped = i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1];
      const steps = [at(i - 1, j) + 1, at(i, j - 1) + 1, at(i - 1, j - 1) + (same ? 0 : 1)];
      if (swapped) steps.push(at(i - 2, j - 2) + 1);
      (rows[i] as number[]).push(Math.min(...steps));
    }
  }
  return at(a.length, b.length);
}
