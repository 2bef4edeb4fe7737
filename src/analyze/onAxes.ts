import type { OnAxes } from "./result.ts";

/** A density on both axes; null where establishment is unknown. */
export function axesOf(establishment: number | null, onStand: boolean): (density: number | null) => OnAxes {
  return (density) => {
    if (density === null) return { stand: null, seedingRate: null };
    if (onStand) return { stand: density, seedingRate: establishment === null ? null : density / establishment };
    return { stand: establishment === null ? null : density * establishment, seedingRate: density };
  };
}
