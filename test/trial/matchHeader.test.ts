import { expect, test } from "vitest";
import { matchHeader } from "../../src/trial/matchHeader.ts";

const read = (header: string) => {
  const { match } = matchHeader(header);
  return match === null ? null : match.unit === null ? match.role : `${match.role} [${match.unit}]`;
};

test("headers give role and unit, in any order, case and punctuation", () => {
  const cases: Readonly<Record<string, string | null>> = {
    yield_bu_ac: "yield [bu/ac]",
    "Yield (t/ha)": "yield [t/ha]",
    "Grain yield, kg ha-1": "yield [kg/ha]",
    "GRAIN YIELD [g m-2]": "yield [g/m2]",
    "Yield (dt/ha)": "yield [dt/ha]",
    "Yield Bu/A": "yield [bu/ac]",
    "bu/ac": "yield [bu/ac]",
    "Yield bpa": "yield [bu/ac]",
    yieldBuAc: "yield [bu/ac]",
    "Yield @ 15.5% (bu/ac)": "yield [bu/ac]",
    "density [plants/m2]": "stand [plants/m2]",
    "Plants per m²": "stand [plants/m2]",
    "plants/m^2": "stand [plants/m2]",
    plants_k_per_acre: "stand [1000 plants/ac]",
    "Final stand (1,000 plants/ac)": "stand [1000 plants/ac]",
    "Harvest population ('000/ha)": "stand [1000 plants/ha]",
    "Stand count (plants/ac)": "stand [plants/ac]",
    seeding_rate_k_ac: "seedingRate [1000 plants/ac]",
    "Seeding Rate (seeds/acre)": "seedingRate [plants/ac]",
    "1000 seeds/ac": "seedingRate [1000 plants/ac]",
    "target density (plants/ha)": "targetDensity [plants/ha]",
    strip_length_ft: "stripLength [ft]",
    "Plot width (m)": "stripWidth [m]",
    weight_lb: "harvestWeight [lb]",
    "Grain weight (kg)": "harvestWeight [kg]",
    moisture_pct: "moisture [percent]",
    "Moisture %": "moisture [percent]",
    "Grain moisture": "moisture",
    row_width_in: "rowWidth [in]",
    "Row spacing (inches)": "rowWidth [in]",
    "Plants counted": "standCount",
    "Stalk lodging (%)": "lodgedStalk [percent]",
    lodged: "lodgedAny",
    root_lodged: "lodgedRoot",
    n_examined: "examined",
    "Hybrid name": "hybrid",
    VARIETY: "hybrid",
    "Plot ID": "plot",
    "plot no.": "plot",
    Rep: "replicate",
    Block: "block",
    "Site-Year": "environment",
    Location: "site",
    Year: "year",
    "Exclude reason": "excludeReason",
    test_weight: "testWeight",
    Strip: "plot",
    "Strip order": "order",
  };
  for (const [header, expected] of Object.entries(cases)) expect(read(header), header).toBe(expected);
});

test("a header that means something else is left alone", () => {
  for (const header of [
    "yield rank",
    "stalk_color",
    "notes",
    "__proto__",
    "constructor",
    "toString",
    "",
    "🌽",
    "plants_per_hill",
    "seed_rate_kg_ha",
  ]) {
    expect(read(header), header).toBeNull();
  }
});

test("a unit that cannot be used leaves a hint", () => {
  expect(matchHeader("seed_rate_kg_ha").hint).toEqual({ role: "seedingRate", unitText: "kg ha" });
  expect(matchHeader("yield_lb_per_hill").hint).toEqual({ role: "yield", unitText: "lb hill" });
});

test("wet, dry and a moisture basis are read from the header", () => {
  expect(matchHeader("Yield wet (bu/ac)").condition).toBe("wet");
  expect(matchHeader("dry_yield_t_ha").condition).toBe("dry");
  expect(matchHeader("Yield (bu/ac @ 15%)").moistureBasis).toBe(15);
  expect(matchHeader("yield at 15,5 % moisture (t/ha)").moistureBasis).toBe(15.5);
});
