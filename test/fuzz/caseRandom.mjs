/**
 * Random numbers of one case of a fuzz run: the seed of the run and the number of the case give all of them, so that any case can be
 * made again alone. Mulberry32 behind a mix of the two.
 *
 * @param {number} seed
 * @param {number} index - number of the case, 0 or more
 */
export function caseRandom(seed, index) {
  let state = (Math.imul(seed ^ 0x9e3779b9, 0x85ebca6b) ^ Math.imul(index + 1, 0xc2b2ae35)) >>> 0;
  const next = () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
  for (let i = 0; i < 3; i++) next();
  return {
    /** In [0, 1). */
    next,
    /** A whole number from 0 to `below` - 1. */
    below: (below) => Math.floor(next() * below),
    /** One of the list. */
    pick: (list) => list[Math.floor(next() * list.length)],
  };
}
