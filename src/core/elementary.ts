// Elementary functions whose every bit is the same on every engine.
//
// ECMAScript leaves Math.exp, log, pow, sin and their kin "implementation-approximated": engines, and versions of one engine,
// differ in the last bit. These are built only from what IEEE 754 and the language fix exactly: + - * / and square root,
// comparison, rounding to whole numbers, and the bits of a double. Nothing else in src may use the ones of Math, nor the
// operator for powers (test/architecture.test.ts).
//
// Method, as in Tang (1989), ACM TOMS 15(2), 144-157, and Tang (1990), ACM TOMS 16(4), 378-400: the argument is reduced to a
// table's node with an exactly known remainder, the rest is a short Taylor series, and the leading parts are added last, so
// that nearly all of the error is the final rounding. The tables are not copied from anywhere: they are summed at load, in
// twofold precision. Largest error in a million random arguments a function, in units of the last place: log, log2, log10, atan,
// atan2, asin and acos 0.52, exp 0.52 (0.75 where the result is subnormal), pow 0.52 (likewise 0.70), hypot 0.57, expm1 0.71,
// sin and cos 0.80. Oracle: test/oracle/elementary.json.
export { acos, asin, atan, atan2 } from "./arc.ts";
export { exp, expm1 } from "./exp.ts";
export { hypot } from "./hypot.ts";
export { log, log1p, log2, log10 } from "./log.ts";
export { pow, square } from "./pow.ts";
export { cos, sin } from "./sine.ts";
