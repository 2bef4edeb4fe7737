import { log, square } from "../core/elementary.ts";
import { tQuantile } from "../numeric/distributions.ts";
import { type EarComponent, type EarValues, earComponentNames } from "./earComponentsRows.ts";

/** How many plots' samples a mean needs, component by component. */
export interface EarSampling {
  /** Precision asked for: half width of a 95 % interval of a density's mean, as a share of it. */
  readonly precision: number;
  /** Null where no density was sampled twice. */
  readonly components: readonly {
    readonly component: EarComponent;
    /** Coefficient of variation between samples of one density, percent. */
    readonly cvPercent: number | null;
    /** Samples of a density that give the precision. */
    readonly samples: number | null;
  }[];
  readonly advice: readonly string[];
}

/**
 * Samples needed for a stated precision: the smallest n with t(0.975; n - 1) CV / sqrt(n) <= precision, CV from the scatter of the log
 * values within density.
 *
 * Source: sample size for a mean, e.g. Snedecor & Cochran (1989), Statistical Methods, section 4.5; every fifth ear and the milk stage:
 * Purdue extension, estimating grain yield prior to harvest.
 */
export function samplingGuidance(rows: readonly EarValues[], precision: number): EarSampling {
  const components = earComponentNames.map((component) => {
    const groups = new Map<number, number[]>();
    for (const row of rows) {
      const list = groups.get(row.density) ?? [];
      list.push(log(row[component]));
      groups.set(row.density, list);
    }
    let ss = 0;
    let dof = 0;
    for (const list of groups.values()) {
      const mean = list.reduce((sum, v) => sum + v, 0) / list.length;
      ss += list.reduce((sum, v) => sum + square(v - mean), 0);
      dof += list.length - 1;
    }
    if (dof === 0) return { component, cvPercent: null, samples: null };
    const cv = Math.sqrt(ss / dof);
    return { component, cvPercent: 100 * cv, samples: samplesFor(cv, precision) };
  });
  return {
    precision,
    components,
    advice: [
      "Take every fifth ear of a counted piece of row, whatever it looks like; do not choose typical ears.",
      "Count all ears and all plants of that piece, barren plants included.",
      "Sample at the milk stage (R3) or later, in several places of a plot or strip.",
      "Weigh kernels at a known moisture and bring them to the moisture at which yield is stated.",
    ],
  };
}

function samplesFor(cv: number, precision: number): number {
  for (let n = 2; n < 10_000; n++) {
    if ((tQuantile(0.975, n - 1) * cv) / Math.sqrt(n) <= precision) return n;
  }
  return 10_000;
}
