import type { Curve } from "./curve.ts";
import { exponential } from "./exponential.ts";
import type { Family } from "./family.ts";
import { flat } from "./flat.ts";
import { linear } from "./linear.ts";
import { linearPlateau } from "./linearPlateau.ts";
import { mitscherlich } from "./mitscherlich.ts";
import { parabolicReciprocal } from "./parabolicReciprocal.ts";
import { quadratic } from "./quadratic.ts";
import { quadraticPlateau } from "./quadraticPlateau.ts";
import { reciprocal } from "./reciprocal.ts";

const curves: Readonly<Record<Family, Curve>> = {
  flat,
  linear,
  quadratic,
  "linear-plateau": linearPlateau,
  "quadratic-plateau": quadraticPlateau,
  exponential,
  reciprocal,
  "parabolic-reciprocal": parabolicReciprocal,
  mitscherlich,
};

/** The functions of a family. */
export function curveOf(family: Family): Curve {
  return curves[family];
}
