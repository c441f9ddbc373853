/**
 * Units as people write them, with their exact factors: the same that the
 * lamella command takes. A test asks that command and compares.
 *
 * Source: NIST Handbook 44, appendix C, for gallon and fluid ounce; the
 * international yard and pound agreement of 1959 for inch and pound; the
 * imperial gallon is 4.54609 l exactly (from memory).
 */

/** Base value = (value + offset) * factor / divisor; the fraction keeps 95 F exactly 35 C. */
export interface Unit {
  /** Lower case, without spaces. */
  readonly names: readonly string[];
  readonly factor: number;
  readonly divisor: number;
  readonly offset: number;
}

/** What is measured, and its units. Values travel in the base unit of each. */
export type Dimension = keyof typeof dimensions;

/** Millilitres in a US fluid ounce. */
export const ML_PER_FLOZ = 29.5735295625;
/** Millilitres in a US gallon. */
export const ML_PER_GALLON = 3785.411784;
/** Millimetres in an inch. */
export const MM_PER_INCH = 25.4;
/** Pascals in a pound per square inch. */
export const PA_PER_PSI = 6894.757293168362;
/** Square metres in a square foot. */
export const M2_PER_SQFT = 0.09290304;
/** Grams in a pound. */
export const G_PER_POUND = 453.59237;

const unit = (names: string, factor: number, divisor = 1, offset = 0): Unit => ({
  names: names.split(" "),
  factor,
  divisor,
  offset,
});

const dimensions = {
  /** Millilitres. */
  volume: {
    hint: ["ml", "floz"],
    units: [
      unit("ml", 1),
      unit("cl", 10),
      unit("l", 1000),
      unit("floz", ML_PER_FLOZ),
      unit("pt", 473.176473),
      unit("qt", 946.352946),
      unit("gal", ML_PER_GALLON),
      unit("impfloz", 28.4130625),
      unit("imppt", 568.26125),
      unit("impgal", 4546.09),
    ],
  },
  /** Grams. */
  mass: {
    hint: ["g", "oz"],
    units: [unit("g", 1), unit("kg", 1000), unit("oz", G_PER_POUND / 16), unit("lb lbs", G_PER_POUND)],
  },
  /** Millimetres. */
  length: {
    hint: ["mm", "in"],
    units: [
      unit("mm", 1),
      unit("cm", 10),
      unit("m", 1000),
      unit('in " inch', MM_PER_INCH),
      unit("ft '", 304.8),
      unit("yd", 914.4),
      unit("um µm μm", 1, 1000),
      unit("mil", MM_PER_INCH, 1000),
    ],
  },
  /** Micrometres. */
  thickness: { hint: ["um", "mil"], units: [unit("um µm μm", 1), unit("mil", 25.4), unit("mm", 1000)] },
  /** Degrees Celsius. */
  temperature: {
    hint: ["C", "F"],
    units: [unit("c °c degc", 1), unit("f °f degf", 5, 9, -32), unit("k", 1, 1, -273.15)],
  },
  /** Kelvins apart: a difference has no zero point. */
  difference: { hint: ["K", "F"], units: [unit("k c °c", 1), unit("f °f", 5, 9)] },
  /** Pascals. */
  pressure: {
    hint: ["kPa", "psi"],
    units: [unit("kpa", 1000), unit("psi", PA_PER_PSI), unit("bar", 100000), unit("hpa mbar", 100), unit("pa", 1)],
  },
  /** Litres per minute. */
  flow: {
    hint: ["l/min", "gal/min"],
    units: [
      unit("l/min", 1),
      unit("gal/min gpm", 3.785411784),
      unit("ml/min", 1, 1000),
      unit("floz/min", ML_PER_FLOZ, 1000),
      unit("l/h", 1, 60),
    ],
  },
  /** Seconds. */
  duration: {
    hint: ["min", "h"],
    units: [unit("s sec", 1), unit("min", 60), unit("h hr", 3600), unit("d day days", 86400), unit("ms", 1, 1000)],
  },
  /** Percent. */
  percent: { hint: ["%", "%"], units: [unit("%", 1)] },
} satisfies Record<string, { hint: readonly [string, string]; units: readonly Unit[] }>;

/** Two usual ways to write the unit. */
export function hint(dimension: Dimension): readonly string[] {
  return dimensions[dimension].hint;
}

/** The unit of that name, whatever the case and the spaces inside it. */
export function findUnit(dimension: Dimension, name: string): Unit | undefined {
  const bare = name.replace(/\s+/g, "").toLowerCase();
  return dimensions[dimension].units.find((unit) => unit.names.includes(bare));
}

/** How the units are usually written. */
export function accepted(dimension: Dimension): string {
  return dimensions[dimension].units.map((unit) => unit.names[0]).join(", ");
}
