import type { CurveAnalysis, OnAxes, TrialAnalysis } from "../analyze/result.ts";
import type { DensityUnit, Trial, YieldUnit } from "../trial/trial.ts";
import { convertDensity } from "../trial/units.ts";
import { fixed, significant } from "./numberText.ts";

/** How the densities of one trial are written. */
export interface DensityWords {
  /** What a density is: "stand" or "seeding rate". */
  readonly place: "stand" | "seeding rate";
  readonly densityUnit: string;
  /** Plants per area, whatever the axis. */
  readonly standUnit: string;
  readonly seedUnit: string;
  /** Seeds as table columns show them, in the step of densities. */
  readonly seedTableUnit: string;
  /** A density without its unit: "28.9". */
  density(x: number): string;
  /** A seeding rate as a planter is set, without unit: "30,500". */
  seeds(rate: number): string;
  /** A seeding rate in the step of densities: "30.5". */
  seedsInTable(rate: number): string;
}

/** How one trial's numbers are written: its units, digits and currency. */
export interface Words extends DensityWords {
  readonly yieldUnit: string;
  readonly area: string;
  yield(y: number): string;
  /** Money per area without the area: "3.20", "$3.20". */
  money(value: number): string;
  /** Money per area: "3.20 per ac". */
  moneyPerArea(value: number): string;
  /** Money per 1,000 seeds from money per density unit. */
  seedCost(perUnit: number): string;
}

/** Words for the result of a trial. */
export function wordsFor(analysis: TrialAnalysis, currency = ""): Words {
  const { densityUnit, yieldUnit, densityAxis, moneyArea } = analysis.trial;
  const money = (value: number): string => withCurrency(moneyNumber(value), currency);
  const perUnit = convertDensity(1, densityUnit, `plants/${moneyArea}`);
  return {
    ...densityWords(densityUnit, densityAxis, highestDensity(analysis)),
    yieldUnit,
    area: moneyArea,
    yield: (y) => fixed(y, yieldDecimals[yieldUnit]),
    money,
    moneyPerArea: (value) => `${money(value)} per ${moneyArea}`,
    seedCost: (cost) => money((cost * 1000) / perUnit),
  };
}

/**
 * Words for densities; those counted in single plants per acre or hectare are written in thousands.
 *
 * @param highest - highest density of the trial, which decides the number of digits
 */
export function densityWords(unit: DensityUnit, axis: Trial["densityAxis"], highest: number): DensityWords {
  const onRate = axis === "seeding-rate";
  const shape = densityShape(unit, highest);
  const { scale, decimals } = shape;
  return {
    place: onRate ? "seeding rate" : "stand",
    densityUnit: onRate ? shape.unit.replace("plants", "seeds") : shape.unit,
    standUnit: shape.unit,
    seedUnit: shape.seedUnit,
    seedTableUnit: shape.unit.replace("plants", "seeds"),
    density: (x) => fixed(x * scale, decimals),
    seeds: (rate) =>
      shape.thousands ? fixed(Number((rate * scale).toFixed(decimals)) * 1000, 0) : fixed(rate * scale, decimals),
    seedsInTable: (rate) => fixed(rate * scale, decimals),
  };
}

interface DensityShape {
  readonly unit: string;
  readonly seedUnit: string;
  readonly scale: number;
  readonly decimals: number;
  readonly thousands: boolean;
}

/** Three digits or so for the densest plots of the trial: as fine as planters are set. */
function densityShape(unit: DensityUnit, highest: number): DensityShape {
  const ground = unit.slice(unit.indexOf("/") + 1);
  const thousands = ground === "ac" || ground === "ha";
  const scale = thousands && !unit.startsWith("1000") ? 0.001 : 1;
  const shown = highest * scale;
  const decimals = shown >= 200 ? 0 : shown >= 20 ? 1 : shown >= 1 ? 2 : 3;
  return {
    unit: thousands ? `thousand plants/${ground}` : unit,
    seedUnit: `seeds/${ground}`,
    scale,
    decimals,
    thousands,
  };
}

const yieldDecimals: Readonly<Record<YieldUnit, number>> = { "bu/ac": 1, "lb/ac": 0, "t/ha": 2, "kg/ha": 0, "g/m2": 0 };

function highestDensity({ hybrids }: TrialAnalysis): number {
  let highest = 0;
  for (const { pooled } of hybrids) {
    if (pooled.kind === "analysed") for (const x of pooled.densities) highest = Math.max(highest, x);
    for (const { limit } of pooled.standability?.lodging ?? []) highest = Math.max(highest, limit.range[1]);
  }
  return highest;
}

function moneyNumber(value: number): string {
  const size = Math.abs(value);
  if (size >= 1000) return fixed(value, 0);
  return size >= 0.1 || size === 0 ? fixed(value, 2) : significant(value, 2);
}

/** Signs stand before the number ("$3.20"), words behind it ("3.20 EUR"), as in running text. */
function withCurrency(amount: string, currency: string): string {
  if (currency === "") return amount;
  if (/^\p{L}/u.test(currency)) return `${amount} ${currency}`;
  return amount.startsWith("-") ? `-${currency}${amount.slice(1)}` : currency + amount;
}

/**
 * Is the flat curve shown only because the others could not compete, or although the data exclude it? AICc prefers it so in
 * very small trials. Then it says nothing about the best density.
 */
export function isUnjudged({ chosen, comparison, agronomic }: CurveAnalysis): boolean {
  if (chosen !== "flat") return false;
  const rivals = comparison.fits.some((fit) => fit.family !== "flat" && fit.aicc !== null);
  const few = comparison.warnings.some((warning) => warning.code === "too-few-plots");
  return few || !rivals || !agronomic.interval.flatNotExcluded;
}

/** The seeding rate of an optimum when known, else its density: what a planter is set to. */
export function rateOf({ stand, seedingRate }: OnAxes): number | null {
  return seedingRate ?? stand;
}
