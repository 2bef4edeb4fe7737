import binomial from "../oracle/lodging/binomial.json" with { type: "json" };
import { sharedCsv, sharedJson, sharedPresent } from "../sharedFolder.ts";

export interface Limits {
  readonly lower: number | null;
  readonly upper: number | null;
}

/** One model of the reference file. */
export interface ReferenceModel {
  readonly id: string;
  readonly csv: string;
  readonly filter?: string | null;
  readonly events: string;
  readonly trials: string;
  readonly formula: string;
  readonly separation_suspected: boolean;
  readonly coef: readonly {
    readonly name: string;
    readonly est: number;
    readonly se: number;
    readonly se_quasi: number;
    readonly p_quasi: number;
  }[];
  readonly vcov: readonly (readonly number[])[];
  readonly deviance: number;
  readonly df_residual: number;
  readonly pearson_chi2: number;
  readonly dispersion_pearson: number;
  readonly loglik: number;
  readonly thresholds?: readonly {
    readonly p: number;
    readonly x: number;
    readonly se_delta: number;
    readonly fieller95: Limits & { readonly kind: string };
    readonly fieller95_quasi: Limits & { readonly kind: string };
    readonly profile95: Limits;
    readonly profile95_quasi_F: Limits;
  }[];
  readonly prediction?: readonly {
    readonly x: number;
    readonly p: number;
    readonly lower95: number;
    readonly upper95: number;
  }[];
  readonly compare_with?: {
    readonly formula: string;
    readonly lr_chisq: number;
    readonly df: number;
    readonly quasi_f: number;
    readonly p_quasi: number;
  };
}

type Columns = Record<string, readonly (string | number)[]>;

/** Models with their data: those stored here, and the others when the shared folder is present. */
export function referenceModels(): { model: ReferenceModel; columns: Columns }[] {
  const here = binomial as unknown as { data: Record<string, Columns>; models: ReferenceModel[] };
  const stored = here.models.map((model) => ({ model, columns: prepared(here.data[model.csv], model.filter) }));
  if (!sharedPresent) return stored;
  const all = sharedJson<{ models: ReferenceModel[] }>("data/reference/binomial_share.json").models;
  const others = all.filter(({ id }) => !stored.some(({ model }) => model.id === id));
  return [
    ...stored,
    ...others.map((model) => ({ model, columns: prepared(sharedCsv(`data/csv/${model.csv}`), model.filter) })),
  ];
}

/** Applies the filter and adds the derived columns that the formulas name. */
function prepared(columns: Columns, filter: string | null | undefined): Columns {
  const size = Object.values(columns)[0].length;
  const keep = Array.from({ length: size }, (_, i) => i).filter((i) =>
    (filter ?? "")
      .split("&")
      .filter((part) => part.trim() !== "")
      .every((part) => {
        const [, name, sign, value] = part.trim().match(/^(\w+) (==|>) '?([^']*)'?$/) as RegExpMatchArray;
        return sign === "==" ? String(columns[name][i]) === value : Number(columns[name][i]) > Number(value);
      }),
  );
  const rows: Columns = Object.fromEntries(
    Object.entries(columns).map(([name, values]) => [name, keep.map((i) => values[i])]),
  );
  return {
    ...rows,
    ...(rows.dose ? { sd: rows.dose.map((x) => Math.sqrt(Number(x))) } : {}),
    ...(rows.concentration
      ? { lc: rows.concentration.map((x) => Math.log10(Number(x))), cf: rows.concentration.map(String) }
      : {}),
    ...(rows.plants_per_ha ? { x: rows.plants_per_ha.map((x) => Number(x) / 1000) } : {}),
  };
}

/** Treatment-contrast design of the formulas that occur: "a", "a + b", "a * b"; text columns are factors. */
export function designOf(formula: string, columns: Columns): Float64Array[] {
  const n = Object.values(columns)[0].length;
  const term = (name: string): Float64Array[] => {
    const values = columns[name];
    if (typeof values[0] === "number") return [Float64Array.from(values as number[])];
    const levels = [...new Set(values)].sort();
    return levels.slice(1).map((level) => Float64Array.from(values, (value) => (value === level ? 1 : 0)));
  };
  const right = formula.replace(/^.*~\s*/, "");
  const terms = right.split(/\s*[+*]\s*/).map(term);
  const ones = new Float64Array(n).fill(1);
  if (!right.includes("*")) return [ones, ...terms.flat()];
  const [a, b] = terms;
  return [ones, ...a, ...b, ...b.flatMap((q) => a.map((p) => p.map((value, i) => value * q[i])))];
}
