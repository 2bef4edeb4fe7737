/** What every reader of a plan must bear in mind. */
export const planCautions: readonly string[] = Object.freeze([
  "A plan rests on what was assumed about the response and the scatter between plots; other figures give another plan.",
  "Densities chosen here are for learning, not for growing: rates for a field come from results, the seed label, local rules and a licensed adviser.",
  "A density meant to be clearly too high may lodge: keep such strips where they can be harvested apart, and follow the seed label's limits.",
]);
