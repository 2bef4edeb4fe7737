import type { Curve } from "./curve.ts";
import type { Family } from "./family.ts";
import { flat } from "./flat.ts";
import { linear } from "./linear.ts";
import { linearPlateau } from "./linearPlateau.ts";
import { quadratic } from "./quadratic.ts";
import { quadraticPlateau } from "./quadraticPlateau.ts";

const curves: Partial<Record<Family, Curve>> = {
  flat,
  linear,
  quadratic,
  "linear-plateau": linearPlateau,
  "quadratic-plateau": quadraticPlateau,
};

/** The functions of a family. */
export function curveOf(family: Family): Curve {
  return curves[family] as Curve;
}
