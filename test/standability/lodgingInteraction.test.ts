import { expect, test } from "vitest";
import { fitLodging } from "../../src/standability/fitLodging.ts";
import { lodgingInteraction } from "../../src/standability/lodgingInteraction.ts";
import { assertDigits } from "../assertDigits.ts";
import { referenceModels } from "../fit/binomialReference.ts";
import extra from "../oracle/lodging/extra.json" with { type: "json" };

const sim07 = referenceModels().find(({ model }) => model.id === "sim07")!.columns as Record<string, number[]>;
const labels = sim07.block as unknown as string[];
const counts = { density: sim07.density, lodged: sim07.lodged, examined: sim07.plants };
// Invented groups, as in extra.R: two groups in each of two replicates.
const group = labels.map((b) => (b === "B1" || b === "B3" ? "G1" : "G2"));
const block = labels.map((b) => (b === "B1" || b === "B2" ? "R1" : "R2"));

test("analysis of deviance F and p for interaction, group and density are those of R", () => {
  const result = lodgingInteraction({ ...counts, group, block });
  expect(result.status).toBe("converged");
  assertDigits(result.dispersion, extra.interaction.phi, 8);
  for (const name of ["interaction", "group", "density"] as const) {
    assertDigits(result[name]?.statistic, extra.interaction[name].f, 7); // differences of deviances: one digit fewer
    assertDigits(result[name]?.pValue, extra.interaction[name].p, 6);
  }
  result.slopes.forEach(({ slope }, g) => void assertDigits(slope, extra.interaction.slopes[g], 8));
});

test("groups that are whole blocks: each slope is that of its own fit", () => {
  const result = lodgingInteraction({ ...counts, group: labels, block: labels }, { dispersion: "binomial" });
  expect(result.group).toBeNull(); // beside block levels a group that is a block has no effect of its own
  result.slopes.forEach(({ group: name, slope, standardError }) => {
    const keep = labels.flatMap((b, i) => (b === name ? [i] : []));
    const pick = (values: number[]) => keep.map((i) => values[i]);
    const alone = fitLodging(
      { density: pick(counts.density), lodged: pick(counts.lodged), examined: pick(counts.examined) },
      { dispersion: "binomial" },
    );
    assertDigits(slope, alone.coefficients.slope!, 9);
    assertDigits(standardError, alone.standardErrors.slope!, 8);
  });
  expect(result.interaction?.dof1).toBe(3);
});

test("a group without lodging is reported, not given a runaway slope", () => {
  const lodged = counts.lodged.map((k, i) => (group[i] === "G2" ? 0 : k));
  const result = lodgingInteraction({ ...counts, lodged, group, block });
  expect(result.status).toBe("separation");
  expect(result.slopes).toEqual([]);
  expect(result.note).toContain("infinite");
  expect(JSON.parse(JSON.stringify(result))).toEqual(result);
});

test("a group at one density has no slope of its own; one group is no comparison", () => {
  const at = counts.density.map((x, i) => (group[i] === "G2" ? 90 : x));
  expect(lodgingInteraction({ ...counts, density: at, group }).status).toBe("singular");
  expect(() => lodgingInteraction({ ...counts, group: labels.map(() => "one") })).toThrow(
    expect.objectContaining({ code: "not-estimable" }),
  );
});
