export type CommandName = "analyze" | "check" | "schema";

/** One option of the command line: the parser, the help and the suggestions all read this table. */
export interface CommandOption {
  readonly name: string;
  /** Placeholder of its value in the help; null for a switch. */
  readonly value: string | null;
  readonly repeatable?: boolean;
  readonly group: "The file" | "Prices" | "The analysis" | "What comes out" | "Help";
  readonly help: string;
  readonly commands: readonly CommandName[];
}

const reading: readonly CommandName[] = ["analyze", "check"];
const analysis: readonly CommandName[] = ["analyze"];
const every: readonly CommandName[] = ["analyze", "check", "schema"];

export const commandOptions: readonly CommandOption[] = [
  file("crop", "NAME", "crop, such as maize or soybean; default: the file's crop column, else maize"),
  file("bushel-weight", "LB", "pounds per bushel of a crop that is not in the table (with --standard-moisture)"),
  file("standard-moisture", "PERCENT", "moisture at which yield is stated; default: the crop's"),
  file("yield-moisture", "WHICH", "moisture of the yield column: standard (default), harvest, or a percentage"),
  file("density-unit", "UNIT", 'unit of densities in the result, such as "1000 plants/ac" or plants/m2'),
  file("yield-unit", "UNIT", "unit of yields in the result, such as bu/ac or t/ha"),
  { ...file("column", "ROLE=HEADER", "the column that has this role; ROLE= says that none has"), repeatable: true },
  { ...file("rating", "HEADER=L,H,W", "ratings in this column: lowest, highest and worst value"), repeatable: true },
  { ...file("unit", "ROLE=UNIT", "unit of the column with this role, such as yield=bu/ac"), repeatable: true },
  file("axis", "AXIS", "density used: mean-stand (default when counted), plot-stand or seeding-rate"),
  file("establishment", "SHARE", "plants per seed, such as 0.95, when stands were not counted"),
  file("hybrid", "NAME", "hybrid of all plots, when the file has no such column"),
  file("environment", "NAME", "environment of all plots, when the file has no such column"),
  file("row-width", "LENGTH", "row spacing, such as 30in or 0.75m, when it is not in the file"),
  file("count-length", "LENGTH", "length of row in which plants were counted, such as 17.5ft"),
  file("count-rows", "N", "rows in which plants were counted; default 1"),
  { ...file("missing", "TEXT", "a text that means missing, such as -999"), repeatable: true },
  file("decimal", "MARK", 'decimal mark, "." or ","; default: found from the numbers'),
  file("delimiter", "MARK", 'separator, ",", ";", "|" or tab; default: found from the first lines'),
  file("weight-by-sub-samples", null, "give a plot made of k sub-samples the weight k"),
  file("accept-magnitudes", null, "keep numbers that are out of scale for their unit"),
  file("strict", null, "stop when the file has any error, instead of leaving the row out"),

  price("grain-price", "MONEY", "money per unit of grain (per bushel when yields are bu/ac)"),
  price("seed-cost", "MONEY", "money per 1,000 seeds"),
  price("yield-cost", "MONEY", "drying and hauling, money per unit of grain; default 0"),
  price("currency", "SIGN", 'sign or word beside money in the text, such as "$" or EUR'),

  study("between", "X1,X2", "reference densities of the flex score; default: the range tested for all hybrids"),
  study("level", "SHARE", "confidence level; default 0.95"),
  study("seed", "N", "start of the random numbers; default 1"),
  study("resamples", "N", "bootstrap replicates for each curve; default 2000, 0 for none"),
  study("families", "LIST", "curves to compare, separated by commas; default the five exact ones"),
  study("near-best-share", "SHARE", "share of the best yield that counts as nearly as good; default 0.01"),
  study("near-best-loss", "MONEY", "money per area that counts as nearly as good; default 1"),
  study("miss-by", "DENSITY", "size of a miss, in the density unit; default 2,000 plants per acre"),
  study("tolerated-lodging", "SHARE", "share of plants that may lodge, such as 0.10 or 10%; default 0.10"),
  study("loss", "SHARE", "share of a lodged plant's grain that is lost, such as 0.5 or 50%; default 0.5"),
  study("no-standability", null, "leave lodging, stalks and ratings out"),
  study("no-scrutiny", null, "leave out what each decision hangs on"),
  study("yield-goal", "YIELD", "yield expected of the field, in the trial's unit"),
  study("beyond-levels-seen", null, "answer a yield goal outside the levels of the environments seen"),
  study("no-mixed-models", null, "leave out the models over environments and hybrids"),
  study("pooled-only", null, "only all environments together, not each by itself"),

  shown("json", null, "the whole result as JSON, nothing else", reading),
  shown("csv", null, "the estimates as CSV, nothing else", analysis),
  shown("out", "DIR", "write report.txt, analysis.json and CSV tables into this folder, all or none", analysis),
  shown("detail", null, "a section with all figures for every hybrid, however many there are", analysis),
  shown("progress", null, "report progress on the error stream even when it is not a terminal", analysis),
  shown("quiet", null, "nothing on the error stream but failures", analysis),
  { name: "help", value: null, group: "Help", help: "this help", commands: every },
  { name: "version", value: null, group: "Help", help: "the version", commands: every },
];

function file(name: string, value: string | null, help: string): CommandOption {
  return { name, value, group: "The file", help, commands: reading };
}

function price(name: string, value: string, help: string): CommandOption {
  return { name, value, group: "Prices", help, commands: analysis };
}

function study(name: string, value: string | null, help: string): CommandOption {
  return { name, value, group: "The analysis", help, commands: analysis };
}

function shown(name: string, value: string | null, help: string, commands: readonly CommandName[]): CommandOption {
  return { name, value, group: "What comes out", help, commands };
}
