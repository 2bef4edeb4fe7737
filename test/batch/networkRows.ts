import { streamRandom } from "../../src/index.ts";

/** An invented network: every hybrid in every environment, with stands counted; rows of a hybrid stand together. */
export function networkCsv(hybrids: number, environments: number, { seed = 5 } = {}): string {
  const random = streamRandom(seed, 0);
  const lines = ["hybrid,site,block,plot,seeding_rate_k_ac,stand_k_ac,yield_bu_ac"];
  for (let h = 0; h < hybrids; h++) {
    for (let e = 0; e < environments; e++) {
      for (let block = 1; block <= 3; block++) {
        for (const rate of [20, 26, 32, 38, 44]) {
          const stand = rate * (0.93 + 0.02 * random.next());
          const grain = 190 + 5 * e - 0.08 * (stand - 31 - h) ** 2 + 4 * random.normal();
          lines.push(`Hybrid ${h},Site ${e},${block},P${lines.length},${rate},${stand.toFixed(1)},${grain.toFixed(1)}`);
        }
      }
    }
  }
  return `${lines.join("\n")}\n`;
}

/** The header and the rows of one hybrid. */
export function rowsOf(csv: string, hybrid: string): string {
  const [header, ...rows] = csv.trimEnd().split("\n");
  return `${[header, ...rows.filter((row) => row.startsWith(`${hybrid},`))].join("\n")}\n`;
}

/** The rows as records, numbers where cells are numbers. */
export function records(csv: string): Record<string, string | number>[] {
  const [header = "", ...rows] = csv.trimEnd().split("\n");
  return rows.map((row) => {
    const cells = row.split(",");
    return Object.fromEntries(
      header.split(",").map((name, i) => {
        const cell = cells[i] ?? "";
        return [name, i >= 4 ? Number(cell) : cell];
      }),
    );
  });
}

/** A stream of what is there. */
export async function* stream<T>(items: Iterable<T>): AsyncGenerator<T> {
  yield* items;
}
