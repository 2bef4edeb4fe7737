import type { Crop, DensityUnit } from "./trial.ts";
import { convertDensity, convertYield, densityUnits, type YieldColumnUnit, yieldUnits } from "./units.ts";

/** Outside these bounds a figure contradicts its unit. They are wide on purpose. */
export interface PlausibleRange {
  /** Plants per m2. */
  readonly density: readonly [lowest: number, highest: number];
  /** Grain, kg/ha: below the first a whole trial is suspect, above the second any plot is. */
  readonly yield: readonly [lowest: number, highest: number];
}

// Common practice, no source: a third of the thinnest stand tried to several times the thickest; failed crops to well above record yields.
const ranges: ReadonlyMap<string, PlausibleRange> = new Map([
  range("maize", [1, 25], [1300, 40_000]),
  range("soybean", [3, 150], [400, 14_000]),
  range("wheat", [20, 1200], [500, 20_000]),
  range("grain sorghum", [1.5, 60], [500, 20_000]),
  range("barley", [20, 1000], [500, 18_000]),
  range("oats", [20, 1000], [400, 15_000]),
  range("rye", [20, 1000], [500, 18_000]),
  range("triticale", [20, 1000], [500, 18_000]),
  range("rice", [5, 900], [800, 22_000]),
  range("canola", [3, 300], [300, 9000]),
  range("sunflower", [1, 20], [300, 8000]),
  range("flax", [50, 2000], [200, 6000]),
  range("proso millet", [20, 600], [300, 8000]),
  range("dry bean", [3, 100], [300, 8000]),
  range("field pea", [10, 250], [300, 10_000]),
  range("lupin", [5, 150], [200, 8000]),
]);
const anyCrop: PlausibleRange = { density: [0.3, 3000], yield: [50, 60_000] };

export function plausibleRange(crop: Crop): PlausibleRange {
  return ranges.get(crop.name) ?? anyCrop;
}

/** Units in which this density would be plausible for the crop, the most usual first. */
export function likelyDensityUnits(value: number, crop: Crop): DensityUnit[] {
  const [low, high] = plausibleRange(crop).density;
  return densityUnits.filter((unit) => between(convertDensity(value, unit, "plants/m2"), low, high));
}

/** Units in which this yield would be plausible for the crop, the most usual first. */
export function likelyYieldUnits(value: number, crop: Crop): YieldColumnUnit[] {
  const [low, high] = plausibleRange(crop).yield;
  return yieldUnits.filter((unit) => {
    if (unit === "bu/ac" && crop.poundsPerBushel === null) return false;
    return between(convertYield(value, unit, "kg/ha", crop), low, high);
  });
}

const between = (value: number, low: number, high: number): boolean => value >= low && value <= high;
function range(name: string, density: [number, number], grain: [number, number]): [string, PlausibleRange] {
  return [name, { density, yield: grain }];
}
