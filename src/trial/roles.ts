/** What a column can be. Everything else is a trait. */
export type Role =
  | "environment"
  | "site"
  | "field"
  | "year"
  | "season"
  | "block"
  | "replicate"
  | "plot"
  | "hybrid"
  | "crop"
  | "seedingRate"
  | "targetDensity"
  | "stand"
  | "standCount"
  | "countLength"
  | "countRows"
  | "rowWidth"
  | "yield"
  | "harvestWeight"
  | "stripLength"
  | "stripWidth"
  | "plotArea"
  | "harvestRows"
  | "moisture"
  | "testWeight"
  | "lodgedStalk"
  | "lodgedRoot"
  | "lodgedSnap"
  | "lodgedAny"
  | "examined"
  | "examinedStalk"
  | "examinedRoot"
  | "examinedSnap"
  | "failedPush"
  | "failedPinch"
  | "examinedPush"
  | "examinedPinch"
  | "lodgingDate"
  | "daysAfterMaturity"
  | "stalkDiameter"
  | "rindStrength"
  | "plantHeight"
  | "earHeight"
  | "rootScore"
  | "weight"
  | "positionRow"
  | "positionColumn"
  | "order"
  | "exclude"
  | "excludeReason";

/** What a role's cells hold; it decides which units its header may carry. */
export type Kind =
  | "label"
  | "text"
  | "density"
  | "yield"
  | "length"
  | "mass"
  | "area"
  | "percent"
  | "count"
  | "lodging"
  | "trait"
  | "number";

/** One role: its cells, and the words a header may use for it. */
export interface RoleEntry {
  readonly role: Role;
  readonly kind: Kind;
  /** Headers that can mean nothing else. */
  readonly strong: readonly string[];
  /** Headers taken for this role only when no strong one is in the file. */
  readonly weak: readonly string[];
}

/**
 * Words for every role, lower case, in any order, without their unit. These are plain trade words: common practice, no
 * source. A header that is missing here is declared with `schema.columns`.
 */
export const roleTable: readonly RoleEntry[] = Object.freeze([
  row(
    "environment",
    "label",
    "environment|env|site year|siteyear|trial|trial environment|location year",
    "experiment|study",
  ),
  row("site", "label", "site|location|loc|farm|station|place|town", "county|region"),
  row("field", "label", "field|field name|paddock", ""),
  row("year", "label", "year|yr|harvest year|crop year|trial year", ""),
  row("season", "label", "season|growing season", ""),
  row("block", "label", "block|blk|bloc|block rep", ""),
  row("replicate", "label", "rep|replicate|replication|repetition|repl", ""),
  row("plot", "label", "plot|plot strip|strip|plt|experimental unit", "unit|pass"),
  row(
    "hybrid",
    "label",
    "hybrid|variety|cultivar|genotype|brand hybrid|product",
    "treatment|trt|entry|line|pedigree|name|gen",
  ),
  row("crop", "text", "crop|species", ""),
  row(
    "seedingRate",
    "density",
    "seeding rate|seed rate|seeding density|sowing rate|sowing density|planting rate|planted rate|seeds planted|seeds dropped|seed drop|drop rate|seeds|rate seeding applied|planting population|seeding population|planted population|population planted|seeds sown",
    "rate|planting density",
  ),
  row(
    "targetDensity",
    "density",
    "target density|target population|target stand|target rate|target plant density|target plant population|target|intended stand|intended population|nominal density|nominal population|desired population|goal population",
    "",
  ),
  row(
    "stand",
    "density",
    "stand|final stand|harvest stand|final population|harvest population|counted stand|stand counted|actual stand|actual population|plant stand|final plant stand|harvest density|final density|established stand|emerged stand|emergence stand|stand harvest plants|harvest plants|final plants",
    "density|plant density|population|plant population|pop|plants",
  ),
  row(
    "standCount",
    "count",
    "stand count|plant count|plants counted|counted plants|plants plot|count plants|number plants|plants number|count|plants in plot|count stand plants",
    "",
  ),
  row(
    "countLength",
    "length",
    "counted length|count length|row length counted|length counted|counted row length|length row counted|row length",
    "",
  ),
  row("countRows", "count", "rows counted|counted rows|count rows|number rows counted", ""),
  row("rowWidth", "length", "row width|row spacing|row distance|width row|spacing row|inter row", ""),
  row(
    "yield",
    "yield",
    "yield|grain yield|yld|dry yield|yield dry|adjusted yield|yield adjusted|corrected yield|standard yield|grain yield dry|wet yield|yield wet|yield harvested|crop yield|grain yield wet|kernel yield|seed yield",
    "",
  ),
  row(
    "harvestWeight",
    "mass",
    "harvest weight|harvested weight|plot weight|grain weight|strip weight|wet weight|scale weight|load weight|net weight|segment weight|grain mass|harvest mass|wagon weight|harvested grain",
    "weight",
  ),
  row(
    "stripLength",
    "length",
    "strip length|plot length|harvest length|harvested length|segment length|pass length|length harvested strip",
    "length",
  ),
  row(
    "stripWidth",
    "length",
    "strip width|plot width|harvest width|harvested width|swath|swath width|header width|pass width|segment width|combine width",
    "width",
  ),
  row("plotArea", "area", "plot area|harvest area|harvested area|strip area|area harvested|segment area", "area"),
  row("harvestRows", "count", "rows harvested|harvested rows|harvest rows", ""),
  row(
    "moisture",
    "percent",
    "moisture|grain moisture|harvest moisture|moist|moisture content|grain moisture content|mst|h2o|grain h2o|moisture harvest grain",
    "mc",
  ),
  row("testWeight", "number", "test weight|tw|testwt|test wt|hectolitre weight|hectoliter weight|specific weight", ""),
  row(
    "lodgedStalk",
    "lodging",
    "stalk lodging|stalk lodged|stalks lodged|lodged stalk|lodged stalks|stalk breakage|broken stalks|stalks broken|lodged stalk plants|stalk lodged count|stalk lodging count|stem lodging|stem breakage",
    "",
  ),
  row(
    "lodgedRoot",
    "lodging",
    "root lodging|root lodged|lodged root|lodged roots|root lodged plants|root lodged count|root lodging count|leaning|leaning plants",
    "",
  ),
  row(
    "lodgedSnap",
    "lodging",
    "green snap|greensnap|brittle snap|snapped plants|green snapped|snapped|green snap count",
    "",
  ),
  row(
    "lodgedAny",
    "lodging",
    "lodged|lodging|lodged plants|plants lodged|lodged count|lodging count|total lodging|lodged total|fallen plants|down plants",
    "",
  ),
  row(
    "examined",
    "count",
    "examined|plants examined|examined plants|plants checked|plants assessed|plants scored|plants looked at|lodging plants examined|examined count|n examined|number examined",
    "n",
  ),
  row("examinedStalk", "count", "stalk examined|stalks examined|examined stalk|stalk lodging examined", ""),
  row("examinedRoot", "count", "root examined|examined root|root lodging examined", ""),
  row("examinedSnap", "count", "snap examined|green snap examined|examined snap", ""),
  row(
    "failedPush",
    "lodging",
    "push test|push test failed|push test failures|push failed|push failures|failed push|stalk push|stalk push failed|stalk push test failed|push test stalks failed",
    "",
  ),
  row(
    "failedPinch",
    "lodging",
    "pinch test|pinch test failed|pinch test failures|pinch failed|pinch failures|failed pinch|stalk pinch|stalk pinch failed|squeeze test|squeeze test failed|squeeze failed",
    "",
  ),
  row("examinedPush", "count", "push examined|push test examined|plants pushed|stalks pushed|pushed", ""),
  row(
    "examinedPinch",
    "count",
    "pinch examined|pinch test examined|plants pinched|stalks pinched|pinched|plants squeezed|squeezed",
    "",
  ),
  row(
    "lodgingDate",
    "text",
    "lodging date|date lodging|count date|date count|rating date|date rating|date counted|assessment date|date assessed|scoring date",
    "date",
  ),
  row(
    "daysAfterMaturity",
    "number",
    "days after maturity|days after physiological maturity|days after black layer|days past maturity|days since maturity|dam",
    "",
  ),
  row(
    "stalkDiameter",
    "trait",
    "stalk diameter|stem diameter|diameter stalk|stalk thickness|stem thickness",
    "diameter",
  ),
  row(
    "rindStrength",
    "trait",
    "rind strength|rind penetrometer resistance|rind resistance|rind puncture resistance|rind puncture|rind penetration|rpr|stalk strength|crush strength|stalk crush strength|stalk bending strength",
    "",
  ),
  row("plantHeight", "trait", "plant height|height plant|canopy height", "height|ht"),
  row("earHeight", "trait", "ear height|height ear|ear insertion height|ear placement", ""),
  row("rootScore", "trait", "root score|root mass score|root rating score", ""),
  row("weight", "number", "fit weight|statistical weight|weight factor|case weight|relative weight", ""),
  row("positionRow", "number", "field row|plot row|position row|row position|row number", "row"),
  row(
    "positionColumn",
    "number",
    "field column|plot column|position column|column position|range|column number",
    "column|col",
  ),
  row(
    "order",
    "number",
    "order|strip order|position|plot order|field order|pass order|strip number position|harvest order|order in field",
    "sequence|serial",
  ),
  row("exclude", "text", "exclude|excluded|drop|discard|omit|outlier|exclude plot", ""),
  row(
    "excludeReason",
    "text",
    "exclude reason|excluded reason|reason excluded|reason|exclusion reason|reason exclude",
    "",
  ),
]);

/** Entry of a role. */
export const roleEntry: ReadonlyMap<Role, RoleEntry> = new Map(roleTable.map((entry) => [entry.role, entry]));

function row(role: Role, kind: Kind, strong: string, weak: string): RoleEntry {
  const list = (words: string): string[] => (words === "" ? [] : words.split("|"));
  return Object.freeze({ role, kind, strong: Object.freeze(list(strong)), weak: Object.freeze(list(weak)) });
}
