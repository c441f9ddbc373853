/** Writing quantities in the browser's locale: one system first, the other beside it. */
import { G_PER_POUND, M2_PER_SQFT, ML_PER_FLOZ, ML_PER_GALLON, MM_PER_INCH, PA_PER_PSI } from "./table.js";

/** Which units come first. */
export type System = "metric" | "us";

/** A quantity in both systems, the chosen one first. */
export interface Shown {
  readonly first: string;
  readonly second: string;
}

/** What can be shown; the value's unit is the one named. */
export type Kind = "ml" | "g" | "mm" | "um" | "c" | "k" | "pa" | "kpa" | "m2" | "percent" | "hours" | "seconds" | "number";

/** A number with about four digits that count. */
export function number(value: number): string {
  return new Intl.NumberFormat(undefined, {
    maximumFractionDigits: Math.max(0, 3 - Math.floor(Math.log10(Math.max(Math.abs(value), 0.1)))),
  }).format(value);
}

/** A number with at most so many decimals. */
export function decimals(value: number, places: number): string {
  return new Intl.NumberFormat(undefined, { maximumFractionDigits: places }).format(value);
}

/** A quantity in both systems; the second is empty where both say the same. */
export function show(kind: Kind, value: number, system: System): Shown {
  const [metric, us] = both(kind, value);
  if (us === undefined) return { first: metric, second: "" };
  return system === "metric" ? { first: metric, second: us } : { first: us, second: metric };
}

function both(kind: Kind, value: number): readonly [string, string?] {
  switch (kind) {
    case "ml":
      return [
        value < 1000 ? `${number(value)} ml` : `${number(value / 1000)} l`,
        value < ML_PER_GALLON ? `${number(value / ML_PER_FLOZ)} fl oz` : `${number(value / ML_PER_GALLON)} gal`,
      ];
    case "g":
      return [
        value < 1000 ? `${number(value)} g` : `${number(value / 1000)} kg`,
        value < G_PER_POUND
          ? `${number((value * 16) / G_PER_POUND)} oz`
          : `${number(value / G_PER_POUND)} lb`,
      ];
    case "mm":
      return [
        value < 10_000 ? `${decimals(value, value < 100 ? 1 : 0)} mm` : `${decimals(value / 1000, 2)} m`,
        value < 120 * MM_PER_INCH ? `${number(value / MM_PER_INCH)} in` : `${number(value / MM_PER_INCH / 12)} ft`,
      ];
    case "um":
      return [`${decimals(value, 1)} µm`, `${decimals(value / 25.4, value < 2.5 ? 3 : 2)} mil`];
    case "c":
      return [`${decimals(value, 1)} °C`, `${decimals((value * 9) / 5 + 32, 1)} °F`];
    case "k":
      return [`${decimals(value, 1)} K`, `${decimals((value * 9) / 5, 1)} °F`];
    case "pa":
      return [`${number(value / 1000)} kPa`, `${number(value / PA_PER_PSI)} psi`];
    case "kpa":
      return both("pa", value * 1000);
    case "m2":
      return [`${number(value)} m²`, `${number(value / M2_PER_SQFT)} sq ft`];
    case "percent":
      return [`${decimals(value, 2)} %`];
    case "hours":
      return [value < 1 ? `${number(value * 60)} min` : value < 72 ? `${number(value)} h` : `${number(value / 24)} d`];
    case "seconds":
      return [value < 120 ? `${number(value)} s` : `${number(value / 60)} min`];
    case "number":
      return [number(value)];
  }
}
