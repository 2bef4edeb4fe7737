import segmented from "../oracle/lodging/segmented.json" with { type: "json" };

type Columns = Record<string, (string | number)[]>;
const data = segmented.data as unknown as Record<string, Columns>;

function columnsOf(
  csv: string,
  filter: string | null | undefined,
  x: string,
  y: string,
): { density: number[]; trait: number[] } {
  const columns = data[csv];
  const keep = columns[x].flatMap((_, i) => {
    const parts = (filter ?? "").split("&").filter((part) => part.trim() !== "");
    const match = parts.every((part) => {
      const [name, value] = part.split("==").map((text) => text.trim().replaceAll("'", ""));
      return String(columns[name][i]) === value;
    });
    return match && columns[y][i] !== null ? [i] : [];
  });
  return { density: keep.map((i) => Number(columns[x][i])), trait: keep.map((i) => Number(columns[y][i])) };
}

/** Fits of R with their data. */
export interface BrokenLineCase {
  readonly name: string;
  readonly input: { density: number[]; trait: number[] };
  readonly expected: (typeof segmented.fits)[number];
}

export function brokenLineCases(): BrokenLineCase[] {
  return segmented.fits.map((expected) => {
    const { filter } = expected as { filter?: string | null };
    const input = columnsOf(expected.csv, filter, expected.x, expected.y);
    return { name: filter ? `${expected.id}, ${filter}` : expected.id, input, expected };
  });
}
