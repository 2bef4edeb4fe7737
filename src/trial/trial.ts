/** How a density is counted: plants or seeds per this area. Thousands per acre is the trade's usual unit. */
export type DensityUnit = "plants/ac" | "1000 plants/ac" | "plants/ha" | "1000 plants/ha" | "plants/m2" | "plants/ft2";

/** Units a yield may be declared in; bushels need the crop's weight per bushel. */
export type YieldUnit = "bu/ac" | "lb/ac" | "t/ha" | "kg/ha" | "g/m2";

/** Facts about the grain that unit and moisture conversion need. */
export interface Crop {
  readonly name: string;
  /** Weight of one bushel, lb; null where the crop is not sold by the bushel. */
  readonly poundsPerBushel: number | null;
  /** Moisture at which yield is stated, percent of wet weight. */
  readonly standardMoisture: number;
}

/**
 * Plants found lodged among plants looked at, of one kind, on one date.
 *
 * `stalk`: broken below the ear; `root`: leaning 30 degrees or more from the root; `green-snap`: snapped while growing;
 * `any`: lodged, no kind named. `push` and `pinch`: stalks that failed when pushed or pinched; those plants still stand, so
 * they are never added to the lodged ones.
 */
export interface LodgingCount {
  readonly kind: "stalk" | "root" | "green-snap" | "any" | "push" | "pinch";
  readonly lodged: number;
  /** Null when the file gives only a percentage; `lodged` is then that share times 1. */
  readonly examined: number | null;
  readonly date: string | null;
  /** Days from maturity to the count; absent when the file does not say. */
  readonly daysAfterMaturity?: number;
}

/** What a trait column measures, when it says something about how plants stand. */
export type StandMeasure = "stalk-diameter" | "rind-strength" | "plant-height" | "ear-height" | "root-score";

/** A column of `Plot.traits` that says something about how plants stand. */
export interface StandTrait {
  /** Name in `Plot.traits`. */
  readonly name: string;
  readonly measure: StandMeasure;
  /** As the header says, such as "mm"; null when it does not. */
  readonly unit: string | null;
}

/** A column of `Plot.traits` that holds ratings, with its scale and which end of it is the worst. */
export interface RatingScale {
  /** Name in `Plot.traits`. */
  readonly name: string;
  readonly scale: readonly [lowest: number, highest: number];
  /** One of the two ends. */
  readonly worst: number;
}

/** One experimental unit after units, moisture and sub-samples are settled. */
export interface Plot {
  /** Line of the file (header = 1) of its first row. */
  readonly row: number;
  /** All lines that were averaged into it, `row` included. */
  readonly rows: readonly number[];
  readonly plot: string | null;
  /** Site and year joined ("Northfield 2031"); one word when there is only one environment. */
  readonly environment: string;
  readonly site: string | null;
  readonly year: string | null;
  /** Block or replicate label within its environment; "1" when the file has none. */
  readonly block: string;
  readonly hybrid: string;
  /** Seeds per area, in the trial's density unit. */
  readonly seedingRate: number | null;
  /** Plants counted per area, in the trial's density unit. */
  readonly stand: number | null;
  /** The density used for fitting, on the trial's `densityAxis`; null when unknown. */
  readonly density: number | null;
  /** Grain per area at standard moisture, in the trial's yield unit; null when missing. */
  readonly yield: number | null;
  /** Harvest moisture, percent. */
  readonly moisture: number | null;
  readonly testWeight: number | null;
  /** Relative weight in fits, > 0. */
  readonly weight: number;
  readonly lodging: readonly LodgingCount[];
  /** Trait columns as [name, value] pairs, numbers where the cell is a number. */
  readonly traits: readonly (readonly [string, number | string])[];
  readonly position: { readonly row: number | null; readonly column: number | null; readonly order: number | null };
  /** Reason the plot stays out of fits, or null. Excluded plots remain listed. */
  readonly excluded: string | null;
}

/** Share of seeds that became plants in one environment. */
export interface EnvironmentEstablishment {
  readonly environment: string;
  /** Total stand / total seeding rate of the plots with both; null when there are none. */
  readonly establishment: number | null;
  /** Plots with both a rate and a counted stand. */
  readonly plots: number;
}

/** A trial ready for analysis: plots in declared units, one per experimental unit. */
export interface Trial {
  readonly schema: "standcurve/trial/1";
  readonly crop: Crop;
  readonly densityUnit: DensityUnit;
  readonly yieldUnit: YieldUnit;
  /**
   * What `density` is: the mean counted stand of that rate in its environment (default when stands were counted), each
   * plot's own count, or the seeding rate.
   */
  readonly densityAxis: "mean-stand" | "plot-stand" | "seeding-rate";
  /** Stand / seeding rate over all plots with both, or as declared; null when unknown. */
  readonly establishment: number | null;
  /** Counted establishment of every environment, in the order of `environments`. */
  readonly environmentEstablishment: readonly EnvironmentEstablishment[];
  readonly environments: readonly string[];
  readonly hybrids: readonly string[];
  readonly plots: readonly Plot[];
  /** Trait columns that say how plants stand, in the order of the file. */
  readonly standTraits: readonly StandTrait[];
  /** Trait columns with ratings whose scale and direction are known. */
  readonly ratings: readonly RatingScale[];
  /** SHA-256 of the text read, hexadecimal; null when rows were given. */
  readonly inputHash: string | null;
}
