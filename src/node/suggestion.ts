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

/** Letters to insert, delete or replace to turn one word into the other. Source: Wagner & Fischer (1974), J. ACM 21, 168-173. */
function editDistance(a: string, b: string): number {
  let row = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const next = [i];
    for (let j = 1; j <= b.length; j++) {
      const replaced = (row[j - 1] as number) + (a[i - 1] === b[j - 1] ? 0 : 1);
      next.push(Math.min(replaced, (row[j] as number) + 1, (next[j - 1] as number) + 1));
    }
    row = next;
  }
  return row[b.length] as number;
}
