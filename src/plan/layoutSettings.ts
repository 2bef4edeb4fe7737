import type { Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { shown } from "../core/shown.ts";
import type { DensityUnit } from "../trial/trial.ts";
import { densityUnits, type LengthUnit, type Measure, metresPer } from "../trial/units.ts";
import type { LayoutDesign, NeighbourRule } from "./layoutPlan.ts";

export interface LayoutOptions {
  /**
   * `complete-block` (default): every hybrid at every rate once in each block, in random order. `split-plot`: main plots of one
   * factor, split for the other. `strips`: complete blocks (or split-plot, with `mainPlot`) of strips side by side as long as the
   * field. `latin-square`: every treatment once in each row and each column; `blocks` is then the number of squares.
   */
  readonly design?: LayoutDesign;
  readonly hybrids: readonly string[];
  /** Seeding rates, in `densityUnit`. */
  readonly rates: readonly number[];
  readonly densityUnit: DensityUnit;
  /** Default 4 (1 square). */
  readonly blocks?: number;
  /** Names of places or site-years; each gets its own random order. Default: one without name. */
  readonly environments?: readonly string[];
  /** Factor of the main plots of a split-plot; default "hybrid" for `split-plot`, none for `strips`. */
  readonly mainPlot?: "hybrid" | "density";
  /** Default "any". Holds within rows and between rows, across blocks too. */
  readonly neighbours?: NeighbourRule;
  /** Field rows that one block takes; default 1. */
  readonly rowsPerBlock?: number;
  /** Blocks side by side; default 1, for strips all of them. */
  readonly blocksAcross?: number;
  /** Border plots around the field: left and right of every row, and rows in front and behind. Default none. */
  readonly borders?: { readonly sides?: number; readonly ends?: number };
  readonly plotLength?: Measure<LengthUnit>;
  readonly plotWidth?: Measure<LengthUnit>;
  readonly alley?: Measure<LengthUnit>;
  /** Strips: width of the planter, passes in a strip (default 1), and the size of the field, which the strips must fit. */
  readonly planterWidth?: Measure<LengthUnit>;
  readonly passes?: number;
  readonly fieldLength?: Measure<LengthUnit>;
  readonly fieldWidth?: Measure<LengthUnit>;
  /** Width of the combine's header: a strip must be at least as wide. */
  readonly harvestWidth?: Measure<LengthUnit>;
  /** Start of the random numbers; default 1. Write it down: it draws the same layout again. */
  readonly seed?: number;
}

/** What `LayoutOptions` must look like. */
export const layoutOptionsShape: { readonly [property: string]: Shape } = {
  design: "text?",
  hybrids: "labels",
  rates: "numbers",
  densityUnit: "text",
  blocks: "count?",
  environments: "labels?",
  mainPlot: "text?",
  neighbours: "text?",
  rowsPerBlock: "number?",
  blocksAcross: "number?",
  borders: "object?",
  plotLength: "any?",
  plotWidth: "any?",
  alley: "any?",
  planterWidth: "any?",
  passes: "number?",
  fieldLength: "any?",
  fieldWidth: "any?",
  harvestWidth: "any?",
  seed: "number?",
};

/** Options of a layout after checking, with defaults filled in. */
export interface LayoutSettings {
  readonly design: LayoutDesign;
  readonly hybrids: readonly string[];
  readonly rates: readonly number[];
  readonly densityUnit: DensityUnit;
  readonly blocks: number;
  readonly environments: readonly string[];
  readonly mainPlot: "hybrid" | "density" | null;
  readonly neighbours: NeighbourRule;
  readonly rowsPerBlock: number;
  readonly blocksAcross: number;
  readonly sides: number;
  readonly ends: number;
  readonly plotLength: Measure<LengthUnit> | null;
  readonly plotWidth: Measure<LengthUnit> | null;
  readonly alley: Measure<LengthUnit> | null;
  readonly seed: number;
}

/** Checks all options of a layout. */
export function layoutSettings(options: LayoutOptions): LayoutSettings {
  const { design = "complete-block", hybrids, rates, densityUnit, environments = [], neighbours = "any" } = options;
  check(
    ["complete-block", "split-plot", "strips", "latin-square"].includes(design),
    "invalid-option",
    `design must be complete-block, split-plot, strips or latin-square, got "${design}"`,
  );
  distinct(hybrids, "hybrids");
  check(
    hybrids.every((name) => typeof name === "string" && name.trim() !== ""),
    "invalid-option",
    "every hybrid needs a name",
  );
  distinct(rates, "rates");
  check(
    rates.every((rate) => rate > 0 && Number.isFinite(rate)),
    "invalid-option",
    `rates must be finite and > 0, got ${rates.join(", ")}`,
  );
  check(
    densityUnits.includes(densityUnit),
    "invalid-option",
    `densityUnit must be one of ${densityUnits.join(", ")}, got "${densityUnit}"`,
  );
  if (environments.length > 0) distinct(environments, "environments");
  check(
    ["any", "rates-differ", "hybrids-differ", "treatments-differ"].includes(neighbours),
    "invalid-option",
    `neighbours must be any, rates-differ, hybrids-differ or treatments-differ, got "${neighbours}"`,
  );
  const blocks = options.blocks ?? (design === "latin-square" ? 1 : 4);
  const strips = design === "strips";
  const blocksAcross = options.blocksAcross ?? (strips ? blocks : 1);
  const { rowsPerBlock = 1, borders = {}, passes = 1, seed = 1 } = options;
  const { sides = 0, ends = 0 } = borders;
  const counts = { blocks, blocksAcross, rowsPerBlock, passes, "borders.sides": sides, "borders.ends": ends };
  for (const [name, value] of Object.entries(counts))
    check(
      Number.isInteger(value) && value >= (name.startsWith("borders") ? 0 : 1) && value <= 1000,
      "invalid-option",
      `${name} must be a whole number up to 1000, got ${value}`,
    );
  check(Number.isSafeInteger(seed) && seed >= 0, "invalid-option", `seed must be an integer >= 0, got ${seed}`);
  check(
    !strips || rowsPerBlock === 1,
    "invalid-option",
    "strips lie side by side over the length of the field: rowsPerBlock is 1",
  );
  const mainPlot = options.mainPlot ?? (design === "split-plot" ? "hybrid" : null);
  check(
    mainPlot === null || mainPlot === "hybrid" || mainPlot === "density",
    "invalid-option",
    `mainPlot must be hybrid or density, got "${mainPlot}"`,
  );
  check(
    mainPlot === null || design === "split-plot" || strips,
    "invalid-option",
    `a ${design} layout has no main plots; use split-plot or strips`,
  );
  check(
    mainPlot === null || (hybrids.length > 1 && rates.length > 1),
    "invalid-option",
    "a split-plot layout needs at least two hybrids and two rates",
  );
  return {
    design,
    hybrids,
    rates,
    densityUnit,
    blocks,
    environments,
    mainPlot,
    neighbours,
    rowsPerBlock,
    blocksAcross,
    sides,
    ends,
    ...sizes(options, strips, passes, sides, blocks * hybrids.length * rates.length, hybrids.length * rates.length),
    seed,
  };
}

function distinct(list: readonly (string | number)[], name: string): void {
  check(Array.isArray(list) && list.length > 0, "invalid-option", `${name} is empty; give at least one`);
  check(
    new Set(list).size === list.length,
    "invalid-option",
    `${name} must differ from each other, got ${list.join(", ")}`,
  );
}

/** Plot size, and whether the strips fit the field. */
function sizes(
  options: LayoutOptions,
  strips: boolean,
  passes: number,
  sides: number,
  plots: number,
  perBlock: number,
): Pick<LayoutSettings, "plotLength" | "plotWidth" | "alley"> {
  const { planterWidth, fieldLength, fieldWidth, harvestWidth, alley = null } = options;
  for (const name of [
    "planterWidth",
    "fieldLength",
    "fieldWidth",
    "harvestWidth",
    "plotLength",
    "plotWidth",
  ] as const) {
    const measure = options[name];
    check(
      measure === undefined || (measure !== null && measure.value > 0 && Object.hasOwn(metresPer, measure.unit)),
      "invalid-option",
      `${name} must be a measure such as { value: 30, unit: "ft" }, got ${shown(measure)}`,
    );
  }
  check(
    alley === null || (alley.value >= 0 && Object.hasOwn(metresPer, alley.unit)),
    "invalid-option",
    `alley must be a measure such as { value: 3, unit: "ft" }, got ${shown(alley)}`,
  );
  const metres = (measure: Measure<LengthUnit>): number => measure.value * metresPer[measure.unit];
  const stripWidth = planterWidth && { value: planterWidth.value * passes, unit: planterWidth.unit };
  const plotWidth = options.plotWidth ?? (strips ? stripWidth : undefined) ?? null;
  const plotLength = options.plotLength ?? (strips ? fieldLength : undefined) ?? null;
  if (harvestWidth !== undefined && plotWidth !== null)
    check(
      metres(plotWidth) >= metres(harvestWidth) - 1e-9,
      "invalid-option",
      `a strip of ${plotWidth.value} ${plotWidth.unit} is narrower than the header (${harvestWidth.value} ${harvestWidth.unit}); use more passes`,
    );
  if (fieldLength !== undefined && plotLength !== null)
    check(
      metres(plotLength) <= metres(fieldLength) + 1e-9,
      "invalid-option",
      `plots of ${plotLength.value} ${plotLength.unit} are longer than the field (${fieldLength.value} ${fieldLength.unit})`,
    );
  if (strips && fieldWidth !== undefined && plotWidth !== null) {
    const room = Math.floor(metres(fieldWidth) / metres(plotWidth) + 1e-9);
    const fitting = Math.floor((room - 2 * sides) / perBlock);
    check(
      plots + 2 * sides <= room,
      "invalid-option",
      `${plots} strips${sides > 0 ? ` and ${2 * sides} borders` : ""} of ${plotWidth.value} ${plotWidth.unit} do not fit a field ${fieldWidth.value} ${fieldWidth.unit} wide, which holds ${room}: ${fitting > 0 ? `${fitting} block(s) would` : "not one block would"}`,
    );
  }
  return { plotLength, plotWidth, alley };
}
