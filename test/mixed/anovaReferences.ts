import { hasShared, oracleJson, type Row, sharedJson } from "./sharedData.ts";

interface ReferenceRow {
  readonly source: string;
  readonly df: number;
  readonly ss: number;
  readonly f: number | null;
  readonly p: number | null;
}
interface ReferencePolynomial {
  readonly x: number[];
  readonly n: number[];
  readonly means: number[];
  readonly ms_error: number;
  readonly df_error: number;
  readonly contrasts: { contrast: string; coefficients?: number[]; ss: number; f: number; p: number }[];
}
/** Answers of R for one analysis of variance. */
export interface AnovaReference {
  readonly id: string;
  readonly csv: string;
  readonly n: number;
  readonly anova_sequential_blocks_first?: ReferenceRow[];
  readonly strata?: { stratum: string; rows: ReferenceRow[] }[];
  readonly type2?: ReferenceRow[] | null;
  readonly adjusted_means?: { level: string; adjusted_mean: number; se: number }[];
  readonly polynomial?: Record<string, ReferencePolynomial>;
  readonly split_plot_sed?: Record<string, number>;
  readonly means?: {
    factor: string;
    levels: string[];
    mean: number[];
    se_mean: number[];
    sed?: number;
    lsd05?: number;
    tukey_hsd05?: number;
  }[];
  readonly tests?: Record<string, { f: number; df1: number; df2: number; p: number }>;
  readonly bartlett_of_error_variances?: { chisq: number; df: number; p: number };
}
/** What the R script was told: response, blocks, factors. */
export interface AnovaPlan {
  readonly kind: "rcbd" | "strata" | "combined";
  readonly id: string;
  readonly y: string;
  readonly block: string[];
  readonly factors?: string[];
  readonly max_order?: number;
}

/** Rows of a set, where not all are taken. */
export const anovaFilters: Record<string, (row: Row) => boolean> = {
  barley_monoculture: (row) => row["mustard_seeds"] === "0" && Number(row["barley_seeds"]) > 0,
  lupin_S01: (row) => row["site"] === "S01",
  lupin_S03_unbalanced: (row) => row["site"] === "S03",
  soybean_complete_cultivars: (row) => row["cultivar"] === "C01" || row["cultivar"] === "C02",
};
/** Treatments and units of the split-plot and split-block sets. */
export const anovaStrata: Record<string, { treatments: string[]; units: string[] }> = {
  oats: { treatments: ["variety", "nitrogen_cwt_ac"], units: ["block", "block:variety"] },
  stroup: { treatments: ["whole_plot_trt", "sub_plot_trt"], units: ["rep", "rep:whole_plot_trt"] },
  rice_splitsplit: {
    treatments: ["nitrogen_kg_ha", "management", "variety"],
    units: ["rep", "rep:nitrogen_kg_ha", "rep:nitrogen_kg_ha:management"],
  },
  soybean_complete_cultivars: {
    treatments: ["cultivar", "row_spacing_in", "plants_k_per_acre"],
    units: ["block", "block:cultivar", "block:cultivar:row_spacing_in", "block:cultivar:plants_k_per_acre"],
  },
  sugarbeet_splitblock: {
    treatments: ["nitrogen_lb_ac", "harvest_weeks"],
    units: ["row", "block", "row:block", "block:harvest_weeks"],
  },
};

/** The analyses whose data stand in test/oracle, and the others when the shared folder is beside the repository. */
export function anovaReferences(): AnovaReference[] {
  const own = oracleJson<{ analyses: AnovaReference[] }>("anovaReference.json").analyses;
  const all = hasShared ? sharedJson<{ analyses: AnovaReference[] }>("reference/anova_share.json").analyses : [];
  return [...own, ...all.filter(({ id }) => !own.some((analysis) => analysis.id === id))];
}

/** Plans of those analyses, by id. */
export function anovaPlans(): Map<string, AnovaPlan> {
  const all = [
    ...oracleJson<AnovaPlan[]>("anovaPlan.json"),
    ...(hasShared ? sharedJson<AnovaPlan[]>("scripts/plan_anova.json") : []),
  ];
  return new Map(all.map((plan) => [plan.id, plan]));
}
