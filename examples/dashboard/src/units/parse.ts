/**
 * Reading a number with its unit, by the rules of the lamella command: a bare
 * number is refused, because 1000 means different things to different people; so
 * is a decimal comma, because it is a thousands separator elsewhere.
 */
import { type Dimension, findUnit, type Unit } from "./table.js";

/** What was read, in the dimension's base unit, or why it was not. */
export type Parsed = { ok: true; value: number } | { ok: false; fault: Fault };

/** Why a quantity cannot be read. */
export type Fault = "number" | "comma" | "no-unit" | "unit" | "too-large";

const fault = (fault: Fault): Parsed => ({ ok: false, fault });

/** Reads `32floz`, `60 in`, `95F`, `1h30min`. The percent sign may be left out. */
export function parse(dimension: Dimension, text: string): Parsed {
  if (dimension === "duration") return parseDuration(text);
  const read = parseOne(dimension, text);
  const withoutSign = dimension === "percent" && !read.ok && read.fault === "no-unit";
  return withoutSign ? parseOne(dimension, `${text.trim()}%`) : read;
}

/** Parts in a row, each from a number to the next one. */
function parseDuration(text: string): Parsed {
  let total = 0;
  let rest = text.trim();
  do {
    const parts = split(rest);
    if (parts === null) return fault("number");
    const next = parts.unit.search(/[0-9]/);
    const end = next < 0 ? rest.length : rest.length - parts.unit.length + next;
    const read = parseOne("duration", rest.slice(0, end));
    if (!read.ok) return read;
    total += read.value;
    rest = rest.slice(end);
  } while (rest !== "");
  return { ok: true, value: total };
}

function parseOne(dimension: Dimension, text: string): Parsed {
  const parts = split(text.trim());
  if (parts === null) return fault("number");
  if (!Number.isFinite(parts.value)) return fault("too-large");
  if (parts.unit === "") return fault("no-unit");
  const unit = findUnit(dimension, parts.unit);
  if (unit === undefined) return fault(parts.unit.includes(",") ? "comma" : "unit");
  const value = toBase(unit, parts.value);
  return Number.isFinite(value) ? { ok: true, value } : fault("too-large");
}

/** The number at the front and what follows. No exponents: nobody writes a bottle that way. */
function split(text: string): { value: number; unit: string } | null {
  const found = /^([+\-−]?)(\d+\.?\d*|\.\d+)(.*)$/su.exec(text);
  if (found === null) return null;
  const [, sign = "", digits = "", unit = ""] = found;
  // A second point is no unit; the number is at fault.
  if (unit.startsWith(".")) return null;
  return { value: (sign === "-" || sign === "−" ? -1 : 1) * Number(digits), unit: unit.trim() };
}

function toBase(unit: Unit, value: number): number {
  return ((value + unit.offset) * unit.factor) / unit.divisor;
}
