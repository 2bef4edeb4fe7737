// Makes the invented trials, field and zones of this folder: `node data-demo/make-demo.mjs` writes them again, byte for byte.
// Truth is stated here and in README.md; nothing in these files was measured anywhere.
import { writeFileSync } from "node:fs";

/** Mulberry32: a small seeded generator of uniform numbers. */
function uniform(seed) {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** Nearly normal, mean 0 and SD 1, by additions only, so that every engine gives the same digits. */
function normal(random) {
  let sum = -6;
  for (let i = 0; i < 12; i++) sum += random();
  return sum;
}

function shuffle(list, random) {
  for (let i = list.length - 1; i > 0; i--) {
    const j = Math.floor(random() * (i + 1));
    [list[i], list[j]] = [list[j], list[i]];
  }
  return list;
}

const below = (join, x) => Math.max(0, join - x);

/** True yield (bu/ac) at x thousand plants/ac in the average environment, and the logit of lodging. */
export const truth = {
  "Amber 12": { shape: "quadratic", optimum: 32, mean: (x) => 215 - 0.075 * (x - 32) ** 2, logit: (x) => -6.7 + 0.1 * x },
  "Birch 7": { shape: "quadratic-plateau", optimum: 33, mean: (x) => 218 - 0.16 * below(33, x) ** 2, logit: (x) => -6.4 + 0.08 * x },
  "Cedar 21": { shape: "linear-plateau", optimum: 29, mean: (x) => 212 - 2.2 * below(29, x), logit: (x) => -6.7 + 0.1 * x },
  "Dune 5": { shape: "flat", optimum: null, mean: () => 198, logit: (x) => -6 + 0.07 * x },
  "Elm 30": { shape: "still rising at the top of the range", optimum: 50, mean: (x) => 236 - 0.045 * (50 - x) ** 2, logit: (x) => -18.7 + 0.5 * x },
  "Fern 18": { shape: "quadratic, lodges when crowded", optimum: 34, mean: (x) => 221 - 0.08 * (x - 34) ** 2, logit: (x) => -7 + 0.16 * x },
};

const environments = [
  { site: "Northfield", year: 2031, shift: 12, establishment: 0.96, moisture: 19 },
  { site: "Westbrook", year: 2031, shift: -4, establishment: 0.93, moisture: 21 },
  { site: "Northfield", year: 2032, shift: -8, establishment: 0.95, moisture: 17.5 },
];

function plots() {
  const random = uniform(20310);
  const lines = ["crop,site,year,block,plot,hybrid,seeding_rate_k_ac,stand_k_ac,yield_bu_ac,moisture_pct,stalk_lodged,plants_examined,stalk_diameter_mm"];
  for (const { site, year, shift, establishment, moisture } of environments) {
    for (let block = 1; block <= 4; block++) {
      const blockEffect = 4 * normal(random);
      const entries = [];
      for (const hybrid of Object.keys(truth)) for (const rate of [18, 23, 28, 33, 38, 43]) entries.push([hybrid, rate]);
      shuffle(entries, random).forEach(([hybrid, rate], i) => {
        const density = rate * establishment;
        const counted = density * (1 + 0.025 * normal(random));
        const grain = truth[hybrid].mean(density) + shift + blockEffect + 6 * normal(random);
        const wet = moisture + 0.7 * normal(random);
        const chance = 1 / (1 + Math.exp(-(truth[hybrid].logit(density) + 0.4 * normal(random))));
        let lodged = 0;
        for (let plant = 0; plant < 60; plant++) if (random() < chance) lodged += 1;
        const diameter = 26 * (24 / density) ** 0.25 + 0.6 * normal(random);
        const cells = ["maize", site, year, block, block * 100 + i + 1, hybrid, rate, counted.toFixed(1), grain.toFixed(1), wet.toFixed(1), lodged, 60, diameter.toFixed(1)];
        lines.push(cells.join(","));
      });
    }
  }
  return `${lines.join("\n")}\n`;
}

/** Two hybrids of the same truth as above, on one field, in strips of 40 ft by 600 ft cut into eight segments by the monitor. */
function strips() {
  const random = uniform(20320);
  const lines = ["Field,Year,Block,Strip,Strip order,Hybrid,Seeding rate (seeds/ac),Segment,Segment length (ft),Segment width (ft),Grain weight (lb),Moisture (%),Plants counted,Counted length (ft),Row width (in)"];
  let strip = 0;
  for (let block = 1; block <= 4; block++) {
    const blockEffect = 5 * normal(random);
    const entries = [];
    for (const hybrid of ["Amber 12", "Cedar 21"]) for (const rate of [24000, 28000, 32000, 36000, 40000]) entries.push([hybrid, rate]);
    for (const [hybrid, rate] of shuffle(entries, random)) {
      strip += 1;
      const density = rate * 0.94;
      const stripYield = truth[hybrid].mean(density / 1000) - 10 + blockEffect + 4 * normal(random);
      for (let segment = 1; segment <= 8; segment++) {
        const length = 75 + Math.round(4 * (random() - 0.5));
        const moisture = 18.5 + 0.5 * normal(random);
        const grain = stripYield + 9 * normal(random);
        const acres = (length * 40) / 43560;
        const weight = (grain * 56 * acres * (100 - 15.5)) / (100 - moisture);
        const count = Math.round((density / 1000) * (1 + 0.05 * normal(random)));
        lines.push(["South field", 2032, block, `S${strip}`, strip, hybrid, rate, segment, length, 40, weight.toFixed(0), moisture.toFixed(1), count, 17.424, 30].join(","));
      }
    }
  }
  return `${lines.join("\n")}\n`;
}

/** Share lodged of each kind on each round, and what else says how the two hybrids of `standing.csv` stand. */
export const standingTruth = {
  "Gorse 9": {
    mean: (x) => 210 - 0.07 * (x - 33) ** 2,
    stalk: [(x) => -9.6 + 0.12 * x, (x) => -8.4 + 0.12 * x],
    root: (x) => -6.5 + 0.06 * x,
    push: (x) => -5.6 + 0.1 * x,
    rind: (x) => 44 - 0.15 * (x - 19),
    rating: (x) => 0.12 * (x - 48),
  },
  "Hazel 3": {
    mean: (x) => 216 - 0.07 * (x - 35) ** 2,
    stalk: [(x) => -10.4 + 0.2 * x, (x) => -8.6 + 0.2 * x],
    root: (x) => -6.5 + 0.06 * x,
    push: (x) => -6.6 + 0.17 * x,
    rind: (x) => 40 - 0.05 * (x - 19) - 0.85 * below(x, 28),
    rating: (x) => 0.25 * (x - 34),
  },
};

/** One field, two rounds of counting, and everything a grower's adviser writes down about standing plants. */
function standing() {
  const random = uniform(20330);
  const lines = ["crop,site,year,block,plot,hybrid,seeding_rate_k_ac,stand_k_ac,yield_bu_ac,date_counted,days_after_maturity,stalk_lodged,root_lodged,plants_examined,push_test_failed,plants_pushed,lodging_rating_1_9_worst_9,rind_strength_lbf,ear_height_in"];
  const logistic = (z) => 1 / (1 + Math.exp(-z));
  const counted = (plants, chance) => {
    let hits = 0;
    for (let plant = 0; plant < plants; plant++) if (random() < chance) hits += 1;
    return hits;
  };
  for (let block = 1; block <= 4; block++) {
    const blockEffect = 4 * normal(random);
    const entries = [];
    for (const hybrid of Object.keys(standingTruth)) for (const rate of [20, 24, 28, 32, 36, 40]) entries.push([hybrid, rate]);
    shuffle(entries, random).forEach(([hybrid, rate], i) => {
      const truth = standingTruth[hybrid];
      const x = rate * 0.95;
      const stand = (x * (1 + 0.025 * normal(random))).toFixed(1);
      const grain = (truth.mean(x) + blockEffect + 5 * normal(random)).toFixed(1);
      const plotEffect = 0.3 * normal(random);
      const push = counted(20, logistic(truth.push(x) + plotEffect));
      const u = random();
      // Nine ratings cut from a logistic scale at -3.5, -2.5 … 3.5.
      const latent = truth.rating(x) + Math.log(u / (1 - u));
      const rating = 1 + [-3.5, -2.5, -1.5, -0.5, 0.5, 1.5, 2.5, 3.5].filter((cut) => latent > cut).length;
      const rind = (truth.rind(x) + 1.2 * normal(random)).toFixed(1);
      const ear = (38 + 0.25 * (x - 28) + normal(random)).toFixed(1);
      const last = [push, 20, rating, rind, ear];
      for (const [round, when] of [["2033-09-12", 4], ["2033-10-03", 25]].entries()) {
        const stalk = counted(50, logistic(truth.stalk[round](x) + plotEffect));
        const root = Math.min(counted(50, logistic(truth.root(x))), 50 - stalk);
        lines.push(["maize", "Lindfield", 2033, block, block * 100 + i + 1, hybrid, rate, stand, grain, ...when, stalk, root, 50, ...(round === 1 ? last : ["", "", "", "", ""])].join(","));
      }
    });
  }
  return `${lines.join("\n")}\n`;
}

/** Ears and plants of `ears.csv`: level at 24 thousand plants/ac and slope d ln / d ln(density) of each part, by hybrid. */
export const earsTruth = {
  "Amber 12": { ears: [1.03, -0.17], rows: [16.5, -0.09], kernels: [39, -0.5], mass: [300, -0.17], diameter: [25.8, -0.25], root: [58, -0.6] },
  "Dune 5": { ears: [1.06, -0.3], rows: [15.8, -0.12], kernels: [37.5, -0.42], mass: [296, -0.16], diameter: [25.2, -0.45], root: [52, -0.95] },
};

/** Plots whose ears were counted: grain per plant is the product of its parts, so the four slopes add up to that of the yield per plant. */
function ears() {
  const random = uniform(20340);
  const lines = ["crop,site,year,block,plot,hybrid,seeding_rate_k_ac,stand_k_ac,yield_bu_ac,plants_sampled,ears_counted,rows_per_ear,kernels_per_row,kernel_mass_mg,stalk_diameter_mm,root_mass_g"];
  for (let block = 1; block <= 4; block++) {
    const blockEffect = 1 + 0.02 * normal(random);
    const entries = [];
    for (const hybrid of Object.keys(earsTruth)) for (const rate of [24, 29, 34, 39]) entries.push([hybrid, rate]);
    shuffle(entries, random).forEach(([hybrid, rate], i) => {
      const own = earsTruth[hybrid];
      const density = rate * 0.95;
      const at = ([level, slope]) => level * (density / 24) ** slope;
      const noisy = (part, sd) => at(part) * (1 + sd * normal(random));
      const perPlant = (at(own.ears) * at(own.rows) * at(own.kernels) * at(own.mass)) / 1000;
      const grain = (perPlant * density * blockEffect * (1 + 0.02 * normal(random))) / 453.59237 / 56 * 1000;
      const cells = ["maize", "Millbank", 2034, block, block * 100 + i + 1, hybrid, rate, (density * (1 + 0.02 * normal(random))).toFixed(1), grain.toFixed(1), 60];
      cells.push(Math.round(60 * noisy(own.ears, 0.02)), noisy(own.rows, 0.01).toFixed(1), (noisy(own.kernels, 0.02) * blockEffect).toFixed(1), noisy(own.mass, 0.02).toFixed(0));
      cells.push(noisy(own.diameter, 0.015).toFixed(1), noisy(own.root, 0.06).toFixed(1));
      lines.push(cells.join(","));
    });
  }
  return `${lines.join("\n")}\n`;
}

/** Yield (bu/ac) of `nitrogen.csv` at x thousand plants/ac and n lb N/ac; it turns at x = 21 + n / 15. */
export const nitrogenTruth = {
  mean: (x, n) => 122 + 3.78 * x - 0.09 * x * x + 0.24 * n - 0.0015 * n * n + 0.012 * x * n,
  best: (n) => (3.78 + 0.012 * n) / 0.18,
};

/** Density x nitrogen, in complete blocks. */
function nitrogen() {
  const random = uniform(20350);
  const lines = ["crop,site,year,block,plot,hybrid,seeding_rate_k_ac,stand_k_ac,nitrogen_rate_lb_ac,yield_bu_ac"];
  for (let block = 1; block <= 3; block++) {
    const blockEffect = 4 * normal(random);
    const entries = [];
    for (const rate of [20, 25, 30, 35, 40]) for (const n of [60, 120, 180, 240]) entries.push([rate, n]);
    shuffle(entries, random).forEach(([rate, n], i) => {
      const density = rate * 0.95;
      const stand = density * (1 + 0.025 * normal(random));
      const grain = nitrogenTruth.mean(density, n) + blockEffect + 4 * normal(random);
      lines.push(["maize", "Fenton", 2035, block, block * 100 + i + 1, "Yarrow 6", rate, stand.toFixed(1), n, grain.toFixed(1)].join(","));
    });
  }
  return `${lines.join("\n")}\n`;
}

/** The field of the worked recommendation, and its zones: what a soil survey, a soil test and the grower would say. */
const field = {
  hybrid: "Fern 18",
  name: "Mill field",
  rateUnit: "1000 plants/ac",
  presentRate: 34,
  acceptedStep: 2,
  planterStep: 0.5,
  establishment: { lowest: 0.9, likely: 0.95, highest: 0.98 },
  prices: { grainPrice: { lowest: 3.9, likely: 4.5, highest: 5.2 }, seedCostPerThousand: 3.75 },
  currency: "$",
  toleratedLodging: 0.1,
  supply: {
    unit: "lb/ac",
    N: { soil: 60, applied: 180, recovery: 0.7 },
    P2O5: { soil: 95, applied: 30, recovery: 0.4 },
    K2O: { soil: 150, applied: 60, recovery: 0.6 },
  },
};

/** Corners west and east in degrees; all zones lie between the same parallels. Areas follow from them. */
const zones = [
  { zone: "hill", area_ac: 25.7, west: -93.6, east: -93.5968815, soil: "eroded silt loam", yield_goal_bu_ac: 170, establishment: 0.9, tolerated_lodging: 0.1, p2o5_soil: 85, k2o_soil: 128 },
  { zone: "slope", area_ac: 29.7, west: -93.5968815, east: -93.5932832, soil: "silt loam", yield_goal_bu_ac: 205, establishment: 0.94, tolerated_lodging: 0.1, p2o5_soil: 105, k2o_soil: 190 },
  { zone: "bottom", area_ac: 23.7, west: -93.5932832, east: -93.5904046, soil: "silty clay", yield_goal_bu_ac: 225, establishment: 0.96, tolerated_lodging: 0.06, p2o5_soil: 130, k2o_soil: 230 },
];
const [south, north] = [41.5, 41.5036019];

function zonesCsv() {
  const names = ["zone", "area_ac", "soil", "yield_goal_bu_ac", "establishment", "tolerated_lodging", "supply_unit", "p2o5_soil", "k2o_soil"];
  const lines = zones.map((zone) => names.map((name) => (name === "supply_unit" ? "lb/ac" : zone[name])).join(","));
  return `${[names.join(","), ...lines].join("\n")}\n`;
}

/** Rings counter-clockwise, as RFC 7946 asks of outer ones. */
function zonesGeoJson() {
  const features = zones.map(({ area_ac: _, west, east, p2o5_soil, k2o_soil, ...rest }, i) => ({
    type: "Feature",
    id: i + 1,
    properties: { ...rest, supply_unit: "lb/ac", p2o5_soil, k2o_soil },
    geometry: { type: "Polygon", coordinates: [[[west, south], [east, south], [east, north], [west, north], [west, south]]] },
  }));
  return `${JSON.stringify({ type: "FeatureCollection", name: "Mill field zones (invented)", features }, null, 1)}\n`;
}

/** Ten environments: sites of two years, with establishment; how they yield is drawn. */
const networkSites = ["Ashby", "Brookend", "Coldwell", "Dunmore", "Eastlea"];

/**
 * Truth of `network.csv`, bu/ac with z = (thousand plants/ac - 30) / 10. Hybrid h in environment e yields
 * level_h + u0_e + d_he + (slope_h + u1_e) z + (curvature_h + u2_e) z^2, with u0 of SD 22, u1 = 0.14 u0 + a part of SD 2,
 * u2 of SD 1, d of SD 4; blocks have SD 4, plots SD 6.
 */
export const networkTruth = {
  between: { level: 22, slopePerYield: 0.14, slope: 2, curvature: 1, hybrid: 4, block: 4, plot: 6 },
  // Name: level, slope and curvature in the average environment, in how many of the ten environments it was grown.
  hybrids: {
    "Iris 16": { level: 204, slope: 6, curvature: -9, grown: 10 },
    "Juniper 4": { level: 198, slope: 3, curvature: -10, grown: 10 },
    "Kelp 22": { level: 201, slope: 9, curvature: -9.5, grown: 9 },
    "Larch 8": { level: 193, slope: 5, curvature: -8, grown: 9 },
    "Maple 13": { level: 208, slope: 10, curvature: -10, grown: 8 },
    "Nettle 27": { level: 196, slope: 7, curvature: -11, grown: 8 },
    "Oak 5": { level: 200, slope: 2, curvature: -8.5, grown: 7 },
    "Poppy 11": { level: 190, slope: 6, curvature: -9, grown: 6 },
    // Newer ones: two blocks of four rates, in few places.
    "Quince 19": { level: 203, slope: 8, curvature: -9, grown: 5, small: true },
    "Reed 6": { level: 199, slope: 4, curvature: -9.5, grown: 3, small: true },
    "Sorrel 24": { level: 206, slope: 11, curvature: -10, grown: 2, small: true },
    "Thistle 10": { level: 194, slope: 5, curvature: -8.5, grown: 2, small: true },
  },
};

/** A breeder's network: twelve hybrids in up to ten environments, some hybrids in few of them. */
export function network(seed = 20342) {
  const random = uniform(seed);
  const { between, hybrids } = networkTruth;
  const lines = ["crop,site,year,block,plot,hybrid,seeding_rate_k_ac,stand_k_ac,yield_bu_ac"];
  let place = 0;
  for (const year of [2034, 2035]) {
    for (const site of networkSites) {
      const establishment = [0.95, 0.93, 0.96, 0.94, 0.92, 0.95, 0.97, 0.93, 0.94, 0.95][place];
      const level = between.level * normal(random);
      const slope = between.slopePerYield * level + between.slope * normal(random);
      const curvature = between.curvature * normal(random);
      const here = Object.entries(hybrids).flatMap(([name, one], h) =>
        // Spread over the places, so that no two hybrids miss quite the same ones.
        (place * 3 + h * 7) % 10 < one.grown ? [{ name, ...one, own: between.hybrid * normal(random) }] : [],
      );
      for (let block = 1; block <= 3; block++) {
        const blockEffect = between.block * normal(random);
        const entries = here.flatMap((one) =>
          one.small ? (block < 3 ? [20, 28, 36, 44] : []).map((rate) => [one, rate]) : [20, 26, 32, 38, 44].map((rate) => [one, rate]),
        );
        shuffle(entries, random).forEach(([one, rate], i) => {
          const x = rate * establishment;
          const z = (x - 30) / 10;
          const counted = x * (1 + 0.025 * normal(random));
          const grain = one.level + level + one.own + (one.slope + slope) * z + (one.curvature + curvature) * z * z + blockEffect + between.plot * normal(random);
          lines.push(["maize", site, year, block, block * 100 + i + 1, one.name, rate, counted.toFixed(1), grain.toFixed(1)].join(","));
        });
      }
      place += 1;
    }
  }
  return `${lines.join("\n")}\n`;
}

/** As a spreadsheet in a country of decimal commas saves it: byte order mark, CRLF, semicolons; with the usual slips. */
function messySemicolon() {
  const text = `Standortversuch 2031 (erfunden / invented);;;;;;
site;block;plot;hybrid;seeding rate [plants/ha];yield [t/ha];moisture %
Lindenau;1;1;Amber 12;55 000;11,20;18,4
Lindenau;1;2;Amber 12;70 000;12,41;18,1
Lindenau;1;3;Amber 12;85 000;12,9o;18,6
Lindenau;1;4;Birch 7;55 000;10,98;
Lindenau;1;5;Birch 7;70 000;12,77;19,0
Lindenau;1;6;Birch 7;850 000;12,95;18,8
Lindenau;2;7;AMBER 12;55 000;11,05;18,2
Lindenau;2;8;Amber 12;70 000;n/a;18,0
Lindenau;2;9;Amber 12;85 000;-12,7;18,3
Lindenau;2;10;Birch 7;55 000;11.31;18,5
Lindenau;2;11;;70 000;12,60;18,9
Lindenau;2;12;Birch 7;85 000;12,88;188

;;;;;;
`;
  return `\uFEFF${text.replaceAll("\n", "\r\n")}`;
}

/** One of everything that goes wrong in a comma-separated file. */
function messyCells() {
  return `site,year,block,plot,hybrid,hybrid,seeding_rate_k_ac,stand_k_ac,yield_bu_ac,stalk_lodged,plants_examined,notes,exclude
Oakhill,2032,1,101,Amber 12,Amber 12,24,23.1,188.2,0,50,,
Oakhill,2032,1,102,Amber 12,Amber 12,30,28.4,199.6,2,50,"rain, then wind",
Oakhill,2032,1,103,Amber 12,Amber 12,36,34.0,21O.5,55,50,,
Oakhill,2032,1,103,Birch 7,Birch 7,36,33.8,204.1,5,50,,
Oakhill,2032,1,104,Birch 7,Birch 7,30,28.9,1e999,1,50,,
Oakhill,2032,1,105,Birch 7,Birch 7,24,0,191.3,0,50,,
Oakhill,2032,2,201,Amber 12,Amber 12,24,23.4,#DIV/0!,1,50,,
Oakhill,2032,2,202,Amber 12,Amber 12,30,41.0,197.7,2,50,,
Oakhill,2032,2,203,Amber 12,Amber 12,360,33.1,206.9,4,50,,
Oakhill,2032,2,204,Birch-7,Birch-7,24,23.0,0,0,50,,
Oakhill,2032,2,205,Birch 7,Birch 7,30,28.2,201,5,1,50,,
Oakhill,2032,2,206,Birch 7,Birch 7,36,34.2,205.0,3,50,12" of hail,
Oakhill,2032,2,207,Birch 7,Birch 7,36,34.4,20.5
Oakhill,2032,3,301,Amber 12,Amber 12,,,195.0,1,50,,
Oakhill,2032,3,302,Amber 12,Amber 12,30,28.1,NA,1,50,,
Oakhill,2032,3,303,Amber 12,Amber 12,36,33.9,207.2,3,50,,planter skip
Oakhill,2032,3,303,Amber 12,Amber 12,36,33.9,207.2,3,50,,planter skip
Mean,,,,,,30,29.6,200.4,,,,
`;
}

export const files = {
  "plots.csv": plots,
  "strips.csv": strips,
  "standing.csv": standing,
  "ears.csv": ears,
  "nitrogen.csv": nitrogen,
  // The innermost objects on one line each.
  "field.json": () =>
    `${JSON.stringify(field, null, 2).replace(/\{\n\s+([^{}]*?)\n\s+\}/g, (_, inner) => `{ ${inner.replace(/\n\s+/g, " ")} }`)}\n`,
  "zones.csv": zonesCsv,
  "zones.geojson": zonesGeoJson,
  "network.csv": () => network(),
  "messy-semicolon.csv": messySemicolon,
  "messy-cells.csv": messyCells,
};

if (process.argv[1] !== undefined && import.meta.url.endsWith(process.argv[1].split("/").at(-1))) {
  for (const [name, make] of Object.entries(files)) writeFileSync(new URL(name, import.meta.url), make());
}
