export type PlanCommandName = "layout" | "check" | "densities" | "power" | "next";
export const planCommands: readonly PlanCommandName[] = ["layout", "check", "densities", "power", "next"];

/** One option of `standcurve plan`: parser and help read this table. */
export interface PlanOption {
  readonly name: string;
  /** Placeholder of the value; null for a switch. */
  readonly value: string | null;
  readonly repeatable?: boolean;
  readonly help: string;
  readonly commands: readonly PlanCommandName[];
}

const layout: readonly PlanCommandName[] = ["layout"];
const densities: readonly PlanCommandName[] = ["densities"];
const power: readonly PlanCommandName[] = ["power"];
const belief: readonly PlanCommandName[] = ["densities", "power"];
const all = planCommands;

export const planOptions: readonly PlanOption[] = [
  option(layout, "hybrids", "LIST", "hybrids of the trial, separated by commas"),
  option(layout, "rates", "LIST", "seeding rates, separated by commas"),
  option(
    ["layout", "densities", "power"],
    "unit",
    "UNIT",
    'unit of rates and densities, such as plants/m2; default "1000 plants/ac"',
  ),
  option(layout, "design", "WHICH", "complete-block (default), split-plot, strips or latin-square"),
  option(["layout", "densities", "power"], "blocks", "N", "blocks in each place; power: several, separated by commas"),
  option(layout, "places", "LIST", "names of places, each with its own random order"),
  option(layout, "main-plot", "FACTOR", "hybrid or density: the factor of the main plots"),
  option(layout, "neighbours", "RULE", "any (default), rates-differ, hybrids-differ or treatments-differ"),
  option(layout, "rows-per-block", "N", "field rows that one block takes; default 1"),
  option(layout, "blocks-across", "N", "blocks side by side; default 1, for strips all"),
  option(layout, "border-sides", "N", "border plots left and right of every row"),
  option(layout, "border-ends", "N", "border rows in front and behind"),
  option(["layout", "power"], "plot-length", "LENGTH", "such as 30ft or 9m"),
  option(["layout", "power"], "plot-width", "LENGTH", "such as 10ft or 3m"),
  option(layout, "alley", "LENGTH", "free ground behind each row of plots"),
  option(layout, "planter-width", "LENGTH", "strips: width of one pass"),
  option(layout, "passes", "N", "strips: passes in a strip; default 1"),
  option(layout, "field-length", "LENGTH", "strips: length of the field"),
  option(layout, "field-width", "LENGTH", "strips: width of the field, which they must fit"),
  option(layout, "harvest-width", "LENGTH", "width of the header: no strip may be narrower"),
  option(layout, "harvest", "WHICH", "empty columns of the field book: yield (default), weight or none"),
  option(layout, "line", "A,B", "guidance line as lon,lat,lon,lat: plots as GeoJSON along it"),
  option(layout, "side", "WHICH", "side of the line on which columns follow: right (default) or left"),
  option(layout, "line-at", "WHICH", "the line is the edge (default) or the centre of column 1"),
  option(layout, "geojson", null, "print the plots on the ground as GeoJSON (needs --line)"),

  option(belief, "optimum", "LOW,HIGH", "densities between which the optimum may lie"),
  option(belief, "loss", "LOW,HIGH", "yield lost --loss-distance below the optimum: one figure or a range"),
  option(belief, "loss-distance", "DENSITY", "distance below the optimum that --loss speaks of"),
  option(belief, "best-yield", "YIELD", "yield at the optimum"),
  option(belief, "families", "LIST", "shapes thought possible; default quadratic,linear-plateau,quadratic-plateau"),
  option(belief, "earlier", "FILE", "a trial already grown (CSV, or JSON of analyze --json), in place of these"),
  option(["densities", "power", "next"], "hybrid", "NAME", "hybrid of that trial"),
  option(belief, "sigma", "YIELD", "standard deviation between plots of a block"),
  option(belief, "cv", "PERCENT", "or: coefficient of variation, at --best-yield"),
  option(belief, "strip-length", "LENGTH", "or: length of the strips"),
  option(belief, "yield-unit", "UNIT", "such as t/ha; default bu/ac"),
  option(densities, "steps", "FROM,TO,STEP", "rates that the planter can drop"),
  option(densities, "count", "N", "how many rates to grow; default 6"),
  option(densities, "place-count", "N", "places with as many blocks each; default 1"),
  option(densities, "criterion", "WHICH", "bounded (default), precision or discrimination"),
  { ...option(densities, "compare", "LIST", "a set of rates to compare with"), repeatable: true },
  option(densities, "no-too-high", null, "refuse a rate that is clearly too high"),
  { ...option(power, "densities", "LIST", "densities of the trial"), repeatable: true },
  option(["power", "next"], "sites", "LIST", "sites: one number or several"),
  option(power, "years", "LIST", "years: one number or several"),
  option(["next"], "more-blocks", "LIST", "numbers of further blocks to consider; default 2,4"),
  option(["next"], "more-densities", "LIST", "further densities to consider"),
  option(["power", "next"], "spread-site", "DENSITY", "how far the optimum moves between sites (standard deviation)"),
  option(["power", "next"], "spread-year", "DENSITY", "the same between years"),
  option(["power", "next"], "spread-site-year", "DENSITY", "the same of single site-years"),
  option(power, "half-width", "DENSITY", "ask how often the optimum is known to within this"),
  option(power, "present", "DENSITY", "ask how often another rate is seen to beat this one"),
  option(power, "gain", "YIELD", "or: to beat a rate that yields so much less"),
  option(power, "flex-between", "X1,X2", "ask how often two flex scores between these densities are told apart"),
  option(power, "flex-difference", "POINTS", "true difference of the two scores"),
  option(power, "lodging-limit", "DENSITY", "ask how often this standability limit is bounded"),
  option(power, "lodging-slope", "RISE", "rise of the logit of lodging per density unit"),
  option(power, "examined", "N", "plants looked at in each plot; default 50"),
  option(power, "goal", "WHICH", "bounded (default), within, gain, flex or lodging"),
  option(power, "enough", "SHARE", "chance that is enough; default 0.8"),
  option(power, "hybrids-grown", "N", "hybrids in the trial, for the budget; default 1"),
  option(power, "seed-cost", "MONEY", "money per 1,000 seeds"),
  option(power, "plot-cost", "MONEY", "money for each plot"),
  option(power, "place-cost", "MONEY", "money for each site and year"),

  option(
    ["densities", "power", "next"],
    "price-ratio",
    "YIELD",
    "yield that pays for one density unit of seed; default 0",
  ),
  option(["densities", "power", "next"], "level", "SHARE", "level of the intervals; default 0.95"),
  option(["densities", "power", "next"], "simulations", "N", "simulated trials"),
  option(all, "seed", "N", "start of the random numbers; default 1"),
  option(all, "json", null, "the whole result as JSON, nothing else"),
  option(["layout", "densities", "power", "next"], "csv", null, "a table as CSV, nothing else"),
  option(all, "out", "DIR", "write all forms of the result into this folder, all or none"),
  option(all, "help", null, "this help"),
];

function option(commands: readonly PlanCommandName[], name: string, value: string | null, help: string): PlanOption {
  return { name, value, help, commands };
}

const usage: Readonly<Record<PlanCommandName, string>> = {
  layout:
    "standcurve plan layout --hybrids LIST --rates LIST [options]\n\nDraws a layout in random order and shows it as a map.",
  check: "standcurve plan check FILE\n\nChecks a plan or a trial (CSV): balance, randomisation, position.",
  densities:
    "standcurve plan densities --optimum LOW,HIGH --loss L --loss-distance D --best-yield Y --steps FROM,TO,STEP --sigma S\n\nChooses the rates of a trial by looking at every set that the steps allow.",
  power:
    "standcurve plan power --densities LIST --optimum LOW,HIGH --loss L --loss-distance D --best-yield Y --sigma S\n\nSays what trials can be expected to tell.",
  next: "standcurve plan next FILE [options]\n\nSays what more blocks, sites or another density would add to a trial (CSV, or JSON of analyze --json).",
};

/** Help for one plan command, or for all. */
export function planHelp(command: PlanCommandName | null): string {
  if (command === null) {
    const lines = planCommands.map(
      (name) => `  ${usage[name].split("\n\n")[0]}\n      ${usage[name].split("\n\n")[1]}`,
    );
    return `Usage:\n${lines.join("\n")}\n\nstandcurve plan COMMAND --help lists the options.\n`;
  }
  const own = planOptions.filter(({ commands }) => commands.includes(command));
  const left = own.map(({ name, value }) => `--${name}${value === null ? "" : ` ${value}`}`);
  const width = Math.max(...left.map((text) => text.length));
  const lines = own.map(
    ({ help, repeatable }, i) => `  ${left[i].padEnd(width)}  ${help}${repeatable ? " (repeatable)" : ""}`,
  );
  return `Usage: ${usage[command]}\n\n${lines.join("\n")}\n`;
}
