/** Reading what was typed into one input. Pure; a fault says what is expected. */
import { t } from "../messages/index.js";
import { parse } from "../units/parse.js";
import { accepted, type Dimension, hint } from "../units/table.js";
import { type Logged, readLog } from "./log.js";

/** What a field takes. */
export type FieldKind =
  | { readonly type: "quantity"; readonly dimension: Dimension }
  /** Several of one dimension; one without a unit has that of the next that has. */
  | { readonly type: "series"; readonly dimension: Dimension }
  /** Corners `0,0; 600,0; 600,400mm`, read as x, y, x, y; units as in a series. */
  | { readonly type: "corners" }
  /** By volume or by weight. */
  | { readonly type: "amount" }
  /** `soft pad@2`: a thing with its place in a series. */
  | { readonly type: "ranked" }
  /** `24.99 EUR`, exactly. */
  | { readonly type: "money" }
  /** Lines of logged air: time, temperature, humidity. */
  | { readonly type: "log" }
  /** One of the shop's product lists, by its id. */
  | { readonly type: "shop"; readonly list: ShopList }
  | { readonly type: "number" }
  | { readonly type: "whole" }
  | { readonly type: "text" }
  | { readonly type: "time" }
  | { readonly type: "check" }
  | { readonly type: "choice"; readonly options: Record<number, string> }
  /** Any number of the options; in the address their values, parted by blanks. */
  | { readonly type: "choices"; readonly options: Record<number, string> };

/** Which of the product lists. */
export type ShopList = "chemicals" | "films" | "coatings";

/** Millilitres or grams. */
export type Amount = { readonly ml: number } | { readonly g: number };

/** A thing with its rank. */
export interface Ranked {
  readonly name: string;
  readonly rank: number;
}

/** Money as the API has it. */
export interface Price {
  readonly currencyCode: string;
  readonly minorUnits: bigint;
}

/** What one input came to. */
export type Value = number | string | boolean | readonly number[] | readonly Logged[] | Amount | Ranked | Price;

/** A value, or what is wrong. */
export type Read = { readonly value: Value } | { readonly fault: string };

const faults = t.bench.faults;

/** Reads one input that is not empty. */
export function readOne(kind: FieldKind, text: string): Read {
  switch (kind.type) {
    case "text":
    case "shop":
      return { value: text };
    case "check":
      return { value: text === "1" };
    case "choice":
      return { value: Number(text) };
    case "choices":
      return { value: text.split(" ").map(Number) };
    case "time": {
      const at = Date.parse(text);
      return Number.isNaN(at) ? { fault: faults.time } : { value: at };
    }
    case "whole":
      return /^\d+$/.test(text) ? { value: Number(text) } : { fault: faults.whole };
    case "number":
      return /^[-−]?(\d+\.?\d*|\.\d+)$/.test(text) ? { value: Number(text.replace("−", "-")) } : { fault: faults.plain };
    case "quantity":
      return readQuantity(kind.dimension, text);
    case "series":
      return readSeries(kind.dimension, text.split(/\s+/));
    case "corners":
      return readCorners(text);
    case "amount":
      return readAmount(text);
    case "ranked":
      return readRanked(text);
    case "money":
      return readMoney(text);
    case "log":
      return readLog(text);
  }
}

/** A quantity in its dimension's base unit. */
export function readQuantity(dimension: Dimension, text: string): { value: number } | { fault: string } {
  const read = parse(dimension, text);
  if (read.ok) return { value: read.value };
  const [first = "", second = ""] = hint(dimension);
  switch (read.fault) {
    case "number":
      return { fault: faults.number(first) };
    case "no-unit":
      return { fault: faults["no-unit"](text + first, text + second) };
    case "unit":
      return { fault: faults.unit(accepted(dimension)) };
    case "comma":
    case "too-large":
      return { fault: faults[read.fault] };
  }
}

/** `108 111 107um`: from the end, because a unit holds for those before it. */
function readSeries(dimension: Dimension, parts: readonly string[]): { value: number[] } | { fault: string } {
  const values: number[] = [];
  let unit = "";
  for (const part of [...parts].reverse()) {
    const bare = /^[+\-−]?[\d.]+$/.test(part);
    if (!bare) unit = part.replace(/^[+\-−]?[\d.]+/, "");
    const read = readQuantity(dimension, bare ? part + unit : part);
    if ("fault" in read) return read;
    values.push(read.value);
  }
  return { value: values.reverse() };
}

function readCorners(text: string): Read {
  const corners = text.split(";").map((corner) => corner.split(",").map((part) => part.trim()));
  if (corners.some((corner) => corner.length !== 2 || corner.includes(""))) return { fault: faults.corners };
  return readSeries("length", corners.flat());
}

function readAmount(text: string): Read {
  const volume = readQuantity("volume", text);
  if (!("fault" in volume)) return { value: { ml: volume.value } };
  const mass = readQuantity("mass", text);
  if (!("fault" in mass)) return { value: { g: mass.value } };
  // Where neither unit fits, both kinds are to be named.
  return /^\d/.test(text) ? { fault: faults.amount(accepted("volume"), accepted("mass")) } : volume;
}

function readRanked(text: string): Read {
  const found = /^(.*\S)\s*@\s*(\d+)$/.exec(text);
  return found?.[1] === undefined ? { fault: faults.ranked } : { value: { name: found[1], rank: Number(found[2]) } };
}

function readMoney(text: string): Read {
  const found = /^(\d+)(?:\.(\d+))?\s*([A-Za-z]{3})$/.exec(text);
  if (found === null) return { fault: faults.money };
  const [, whole = "", part = "", code = ""] = found;
  const currency = code.toUpperCase();
  const digits = new Intl.NumberFormat("en", { style: "currency", currency }).resolvedOptions().maximumFractionDigits ?? 2;
  if (part.length > digits) return { fault: faults.moneyDigits(currency, digits) };
  // By digits, never through a float.
  return { value: { currencyCode: currency, minorUnits: BigInt(whole + part.padEnd(digits, "0")) } };
}
