import { check } from "../core/errors.ts";
import type { RandomStream } from "../core/random.ts";
import { drawOrder } from "./drawOrder.ts";
import { latinSquare } from "./latinSquare.ts";
import type { LayoutPlan, NeighbourRule, Treatment } from "./layoutPlan.ts";
import type { LayoutSettings } from "./layoutSettings.ts";
import { shuffle } from "./shuffle.ts";

const LARGEST_SQUARE = 30;

/** Where the blocks lie in the field. */
export interface FieldGrid {
  readonly rows: number;
  readonly columns: number;
  readonly blockRows: number;
  readonly blockColumns: number;
  readonly across: number;
  readonly blocks: number;
  readonly sides: number;
  readonly ends: number;
}

/** Rows and columns that the blocks and borders take. */
export function fieldGrid(
  { design, blocks, rowsPerBlock, blocksAcross, sides, ends }: LayoutSettings,
  size: number,
): FieldGrid {
  const square = design === "latin-square";
  check(
    !square || (size >= 2 && size <= LARGEST_SQUARE),
    "invalid-option",
    `a Latin square takes 2 to ${LARGEST_SQUARE} treatments (hybrids x rates), got ${size}`,
  );
  check(
    rowsPerBlock <= size,
    "invalid-option",
    `rowsPerBlock must not exceed the ${size} plots of a block, got ${rowsPerBlock}`,
  );
  const blockRows = square ? size : rowsPerBlock;
  const blockColumns = Math.ceil(size / (square ? 1 : rowsPerBlock));
  const across = Math.min(blocksAcross, blocks);
  const down = Math.ceil(blocks / across);
  return {
    rows: down * blockRows + 2 * ends,
    columns: across * blockColumns + 2 * sides,
    blockRows,
    blockColumns,
    across,
    blocks: square ? blocks * size : blocks,
    sides,
    ends,
  };
}

/** A place in the field while it is being filled. */
export interface FieldCell {
  treatment: Treatment | null;
  block: number;
  mainPlot: number | null;
}

export type Field = (FieldCell | null)[][];

export function emptyField({ rows, columns }: FieldGrid): Field {
  return Array.from({ length: rows }, () => new Array<FieldCell | null>(columns).fill(null));
}

/** Field positions of one block, row by row; rows turn round so that the end of one is next to the start of the next. */
function placesOf(grid: FieldGrid, block: number, size: number): [number, number][] {
  const top = grid.ends + Math.floor(block / grid.across) * grid.blockRows;
  const left = grid.sides + (block % grid.across) * grid.blockColumns;
  const places: [number, number][] = [];
  for (let r = 0; r < grid.blockRows; r++)
    for (let c = 0; c < grid.blockColumns; c++)
      places.push([top + r, left + (r % 2 === 0 ? c : grid.blockColumns - 1 - c)]);
  return places.slice(0, size);
}

function alike(rule: NeighbourRule): (a: Treatment, b: Treatment) => boolean {
  switch (rule) {
    case "rates-differ":
      return (a, b) => a.rate === b.rate;
    case "hybrids-differ":
      return (a, b) => a.hybrid === b.hybrid;
    case "treatments-differ":
      return (a, b) => a.rate === b.rate && a.hybrid === b.hybrid;
    default:
      return () => false;
  }
}

/** Draws every block and writes it into the field. */
export function fillBlocks(
  field: Field,
  grid: FieldGrid,
  settled: LayoutSettings,
  treatments: readonly Treatment[],
  random: RandomStream,
): LayoutPlan["randomisation"] {
  const { blocks, neighbours, mainPlot } = settled;
  const same = alike(neighbours);
  let method: LayoutPlan["randomisation"] = "uniform";
  for (let block = 0; block < blocks; block++) {
    const places = placesOf(grid, block, treatments.length);
    const pairs = neighbourPairs(field, places);
    const clashes = (order: readonly Treatment[]): number => {
      if (neighbours === "any") return 0;
      let count = 0;
      for (const [i, j] of pairs.inside) if (same(order[i], order[j])) count++;
      for (const [i, other] of pairs.outside) if (same(order[i], other)) count++;
      return count;
    };
    const what = `block ${block + 1}`;
    const drawn =
      mainPlot === null
        ? drawOrder(treatments, clashes, random, what)
        : drawSplit(treatments, mainPlot, clashes, random, what);
    if (drawn.method === "swap-chain") method = drawn.method;
    drawn.order.forEach((treatment, i) => {
      const [row, column] = places[i];
      const perMain = mainPlot === "hybrid" ? settled.rates.length : settled.hybrids.length;
      field[row][column] = {
        treatment,
        block: block + 1,
        mainPlot: mainPlot === null ? null : Math.floor(i / perMain) + 1,
      };
    });
  }
  return method;
}

/** Pairs of places next to each other: within the block by index, and with what stands already around it. */
function neighbourPairs(
  field: Field,
  places: readonly [number, number][],
): { inside: [number, number][]; outside: [number, Treatment][] } {
  const index = new Map(places.map(([row, column], i) => [`${row},${column}`, i]));
  const inside: [number, number][] = [];
  const outside: [number, Treatment][] = [];
  places.forEach(([row, column], i) => {
    for (const [dr, dc] of [
      [0, 1],
      [1, 0],
      [0, -1],
      [-1, 0],
    ] as const) {
      const other = index.get(`${row + dr},${column + dc}`);
      if (other !== undefined) {
        if (other > i) inside.push([i, other]);
        continue;
      }
      const standing = field[row + dr]?.[column + dc]?.treatment;
      if (standing) outside.push([i, standing]);
    }
  });
  return { inside, outside };
}

/** Random order of main plots and, inside each, of the other factor; drawn again as a whole until the rule is kept. */
function drawSplit(
  treatments: readonly Treatment[],
  mainPlot: "hybrid" | "density",
  clashes: (order: readonly Treatment[]) => number,
  random: RandomStream,
  what: string,
): { order: Treatment[]; method: "uniform" | "swap-chain" } {
  const key = (one: Treatment): string | number => (mainPlot === "hybrid" ? one.hybrid : one.rate);
  const mains = [...new Set(treatments.map(key))];
  const groups = mains.map((main) => treatments.filter((one) => key(one) === main));
  for (let attempt = 0; attempt < 20_000; attempt++) {
    const order = shuffle([...groups], random).flatMap((group) => shuffle([...group], random));
    if (clashes(order) === 0) return { order, method: "uniform" };
  }
  check(
    false,
    "not-offered",
    `no order of the main plots of ${what} keeps equal neighbours apart (plots of one main plot share its ${mainPlot}); relax the neighbour rule`,
  );
}

/** Draws every Latin square and writes it into the field. */
export function fillSquares(
  field: Field,
  grid: FieldGrid,
  { blocks, neighbours }: LayoutSettings,
  treatments: readonly Treatment[],
  random: RandomStream,
): LayoutPlan["randomisation"] {
  const n = treatments.length;
  const same = alike(neighbours);
  for (let s = 0; s < blocks; s++) {
    const top = grid.ends + Math.floor(s / grid.across) * n;
    const left = grid.sides + (s % grid.across) * n;
    let square: number[][] = [];
    const treatmentAt = (r: number, c: number): Treatment | null => {
      const inside = r >= 0 && c >= 0 && r < n && c < n;
      return inside ? treatments[square[r][c]] : (field[top + r]?.[left + c]?.treatment ?? null);
    };
    const clashes = (): boolean => {
      if (neighbours === "any") return false;
      for (let r = 0; r < n; r++)
        for (let c = 0; c < n; c++) {
          const own = treatments[square[r][c]];
          for (const [dr, dc] of [
            [0, 1],
            [1, 0],
            [0, -1],
            [-1, 0],
          ] as const) {
            const other = treatmentAt(r + dr, c + dc);
            if (other !== null && same(own, other)) return true;
          }
        }
      return false;
    };
    let attempt = 0;
    do {
      check(
        attempt++ < 2000,
        "not-offered",
        "no random Latin square was found that keeps equal neighbours apart; relax the neighbour rule",
      );
      square = latinSquare(n, random);
    } while (clashes());
    for (let r = 0; r < n; r++)
      for (let c = 0; c < n; c++)
        field[top + r][left + c] = { treatment: treatments[square[r][c]], block: s * n + r + 1, mainPlot: null };
  }
  return "uniform";
}
