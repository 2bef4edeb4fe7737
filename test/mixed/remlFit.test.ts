import { describe, expect, test } from "vitest";
import { kenwardRoger } from "../../src/mixed/kenwardRoger.ts";
import type { RandomTerm } from "../../src/mixed/randomTerm.ts";
import { remlFit } from "../../src/mixed/remlFit.ts";
import { solveReml } from "../../src/mixed/remlModel.ts";
import { satterthwaite } from "../../src/mixed/satterthwaite.ts";
import { assertDigits } from "../assertDigits.ts";
import { contrasts, oracleJson, oracleRows, times } from "./sharedData.ts";

interface FTest {
  readonly f: number;
  readonly df1: number;
  readonly df2: number;
}
interface Dense {
  readonly loglik: number;
  readonly names: string[];
  readonly components: { term: string; a: number; b: number; value: number }[];
  readonly coefficients: number[];
  readonly standard_errors: number[];
  readonly satterthwaite_df: number[];
  readonly kr_standard_errors: number[];
  readonly kr_df: number[];
  readonly tests: { columns: string[]; kr: FTest; satterthwaite: FTest }[];
  readonly modes: { term: string; levels: string[]; values: number[][]; standard_errors: number[][] }[];
}
interface Case {
  readonly y: number[];
  readonly x: number[][];
  readonly random: RandomTerm[];
}

const oracle = oracleJson<Record<string, Dense>>("mixedDense.json");
const ones = (n: number): number[] => new Array<number>(n).fill(1);

function invented(): {
  y: number[];
  z: number[];
  z2: number[];
  one: number[];
  hybrid: string[];
  environment: string[];
  block: string[];
} {
  const rows = oracleRows("mixedInvented.csv");
  const z = rows.map((row) => (Number(row["density"]) - 32) / 10);
  return {
    y: rows.map((row) => Number(row["yield"])),
    z,
    z2: times(z, z),
    one: ones(z.length),
    hybrid: rows.map((row) => row["hybrid"]),
    environment: rows.map((row) => row["environment"]),
    block: rows.map((row) => `${row["environment"]}:${row["block"]}`),
  };
}

const cases: Record<string, () => Case> = {
  oats_quadratic: () => {
    const rows = oracleRows("oats_splitplot_yates.csv");
    const x = rows.map((row) => Number(row["nitrogen_cwt_ac"]));
    return {
      y: rows.map((row) => Number(row["yield_qlb"])),
      x: [ones(x.length), ...contrasts(rows.map((row) => row["variety"])), x, times(x, x)],
      random: [
        { name: "block", group: rows.map((row) => row["block"]) },
        { name: "block:variety", group: rows.map((row) => `${row["block"]}:${row["variety"]}`) },
      ],
    };
  },
  potato: () => {
    const rows = oracleRows("potato_rcbd_missing_yates.csv").filter(
      (row) => row["infection"] !== "NA" && row["infection"] !== "",
    );
    return {
      y: rows.map((row) => Number(row["infection"])),
      x: [ones(rows.length), ...contrasts(rows.map((row) => row["treatment"]))],
      random: [{ name: "block", group: rows.map((row) => row["block"]) }],
    };
  },
  theobald: () => {
    const rows = oracleRows("barley_nitrogen_met_theobald.csv").filter(
      (row) => row["yield_t_ha"] !== "NA" && row["yield_t_ha"] !== "",
    );
    const x = rows.map((row) => Number(row["nitrogen_kg_ha"]) / 100);
    return {
      y: rows.map((row) => Number(row["yield_t_ha"])),
      x: [ones(x.length), ...contrasts(rows.map((row) => row["variety"])), x, times(x, x)],
      random: [
        { name: "env", group: rows.map((row) => `${row["year"]} ${row["location"]}`) },
        { name: "env:variety", group: rows.map((row) => `${row["year"]} ${row["location"]}:${row["variety"]}`) },
      ],
    };
  },
  invented_slope: () => {
    const { y, z, z2, one, environment, block } = invented();
    return {
      y,
      x: [one, z, z2],
      random: [
        { name: "environment", group: environment, columns: [one, z] },
        { name: "environment:block", group: block },
      ],
    };
  },
  invented_crossed: () => {
    const { y, z, z2, one, environment, block, hybrid } = invented();
    return {
      y,
      x: [one, z, z2],
      random: [
        { name: "environment", group: environment, columns: [one, z] },
        { name: "environment:block", group: block },
        { name: "hybrid", group: hybrid },
      ],
    };
  },
  invented_hybrid: () => {
    const { y, z, z2, one, environment, block, hybrid } = invented();
    const h = contrasts(hybrid);
    return {
      y,
      x: [one, ...h, z, z2, ...h.map((c) => times(c, z)), ...h.map((c) => times(c, z2))],
      random: [
        { name: "environment", group: environment, columns: [one, z] },
        { name: "environment:block", group: block },
        { name: "environment:hybrid", group: environment.map((e, i) => `${e}:${hybrid[i]}`) },
      ],
    };
  },
};

describe.each(Object.keys(cases))("remlFit on %s agrees with dense matrices (test/oracle/mixed/mixedDense.R)", (id) => {
  const { y, x, random } = cases[id]();
  const want = oracle[id];
  const fit = remlFit({ y, x, random }, { names: want.names });

  test("log-likelihood, variances, fixed effects and their errors", () => {
    expect(fit.status).toBe("converged");
    assertDigits(fit.logLikelihood, want.loglik, 12, "log-likelihood");
    for (const { term, a, b, value } of want.components) {
      const name = term === "Residual" ? "residual" : term;
      const column = ["intercept", "z"];
      const own = fit.varianceComponents.find(
        (c) => c.term === name && c.column === column[b - 1] && c.withColumn === (a === b ? null : column[a - 1]),
      );
      assertDigits(own?.value, value, 9, `${term} ${a}${b}`);
    }
    want.coefficients.forEach((b, j) => {
      assertDigits(fit.coefficients[j], b, 9, want.names[j]);
    });
    want.standard_errors.forEach((se, j) => {
      assertDigits(fit.standardErrors[j], se, 9, `SE ${want.names[j]}`);
    });
  });

  test("Satterthwaite and Kenward-Roger degrees of freedom, errors and F tests", () => {
    const widened = remlFit({ y, x, random }, { df: "kenward-roger" });
    want.satterthwaite_df.forEach((df, j) => {
      assertDigits(fit.dof[j], df, 8, `Satterthwaite ${want.names[j]}`);
      assertDigits(widened.dof[j], want.kr_df[j], 8, `Kenward-Roger ${want.names[j]}`);
      assertDigits(widened.standardErrors[j], want.kr_standard_errors[j], 9, `widened SE ${want.names[j]}`);
    });
    const model = solveReml({ y, x, names: want.names, terms: random });
    const p = want.names.length;
    for (const { columns, kr, satterthwaite: sat } of want.tests) {
      const l = new Float64Array(columns.length * p);
      columns.forEach((name, i) => {
        l[i * p + want.names.indexOf(name)] = 1;
      });
      const a = satterthwaite(model).test(l, columns.length);
      const b = kenwardRoger(model)?.test(l, columns.length);
      assertDigits(a.f, sat.f, 9);
      assertDigits(a.df2, sat.df2, 8);
      assertDigits(b?.f, kr.f, 9);
      assertDigits(b?.df2, kr.df2, 8);
    }
  });

  test("conditional modes and their prediction errors", () => {
    for (const { term, levels, values, standard_errors } of want.modes) {
      const own = fit.modes.find((modes) => modes.term === term);
      levels.forEach((level, l) => {
        const at = own?.levels.indexOf(level) ?? -1;
        expect(at, level).toBeGreaterThanOrEqual(0);
        values[l].forEach((value, c) => {
          assertDigits(own?.values[at][c], value, 8, `${term} ${level}`);
          assertDigits(own?.standardErrors[at][c], standard_errors[l][c], 9, `${term} ${level}`);
        });
      });
    }
  });
});

test("weights act as replication of precision: weight 4 halves the error of an observation", () => {
  const y = [3, 5, 4, 8, 9, 11, 6, 7];
  const group = [1, 1, 1, 2, 2, 2, 3, 3];
  const base = remlFit({ y, x: [ones(8)], random: [{ name: "g", group }] });
  const scaled = remlFit({ y, x: [ones(8)], random: [{ name: "g", group }], weight: ones(8).map(() => 4) });
  // Multiplying every weight by 4 multiplies sigma^2 by 4 and changes nothing else.
  assertDigits(scaled.sigma, 2 * base.sigma, 10);
  assertDigits(scaled.coefficients[0], base.coefficients[0], 12);
  assertDigits(scaled.varianceComponents[0].value, base.varianceComponents[0].value, 9);
  // The density of y itself does not change either.
  assertDigits(scaled.logLikelihood, base.logLikelihood, 10);
});

test("a balanced one-way layout gives the analysis-of-variance estimators in closed form", () => {
  const y = [3, 5, 4, 8, 9, 11, 6, 7, 8];
  const group = [1, 1, 1, 2, 2, 2, 3, 3, 3];
  const fit = remlFit({ y, x: [ones(9)], random: [{ name: "g", group }] });
  const means = [4, 28 / 3, 7];
  const grand = 61 / 9;
  const between = (3 * means.reduce((s, m) => s + (m - grand) ** 2, 0)) / 2;
  const within = y.reduce((s, v, i) => s + (v - means[group[i] - 1]) ** 2, 0) / 6;
  assertDigits(fit.varianceComponents[0].value, (between - within) / 3, 11);
  assertDigits(fit.sigma ** 2, within, 11);
  assertDigits(fit.dof[0], 2, 10); // between-groups degrees of freedom
});

test("order of rows, units and names of levels do not matter", () => {
  const { y, x, random } = cases["invented_slope"]();
  const base = remlFit({ y, x, random });
  const order = y.map((_, i) => i).reverse();
  const turned = remlFit({
    y: order.map((i) => y[i] * 10),
    x: x.map((c) => order.map((i) => c[i])),
    random: random.map((t) => ({
      ...t,
      group: order.map((i) => `level ${t.group[i]}`),
      ...(t.columns === undefined ? {} : { columns: t.columns.map((c) => order.map((i) => c[i])) }),
    })),
  });
  base.coefficients.forEach((b, j) => {
    assertDigits(turned.coefficients[j], 10 * b, 9);
  });
  base.varianceComponents.forEach((v, j) => {
    assertDigits(turned.varianceComponents[j].value, 100 * v.value, 8);
  });
});

test("a variance that the data put at zero is exactly zero, and the status says so", () => {
  // Group means that agree better than chance: the between mean square is below the within mean square.
  const y = [1, 5, 9, 2, 5, 8, 1, 5, 9];
  const fit = remlFit({ y, x: [ones(9)], random: [{ name: "field", group: [1, 1, 1, 2, 2, 2, 3, 3, 3] }] });
  expect(fit.status).toBe("singular");
  expect(fit.varianceComponents[0].value).toBe(0);
  expect(fit.message).toContain("field");
  assertDigits(fit.sigma ** 2, 82 / 8, 12); // plain variance of the nine values: sum of squares 82 about their mean 5
});

test("mistakes of the caller throw a code", () => {
  const random = [{ name: "g", group: [1, 1, 2, 2] }];
  const code = (run: () => unknown): string => {
    try {
      run();
    } catch (error) {
      return (error as { code: string }).code;
    }
    return "none";
  };
  expect(code(() => remlFit({ y: [1, 2, 3, 4], x: [[1, 1, 1]], random }))).toBe("length-mismatch");
  expect(code(() => remlFit({ y: [1, 2, 3, Number.NaN], x: [ones(4)], random }))).toBe("invalid-data");
  expect(code(() => remlFit({ y: [1, 2, 3, 5], x: [ones(4), [2, 2, 2, 2]], random }))).toBe("not-estimable");
  expect(code(() => remlFit({ y: [5, 5, 5, 5], x: [ones(4)], random }))).toBe("not-estimable");
});
