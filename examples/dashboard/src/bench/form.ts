/**
 * What a calculator's form is made of, how it lies in the address, and how it is
 * read. Pure: the address is the only place where inputs are kept.
 */
import { t } from "../messages/index.js";
import { parse } from "../units/parse.js";
import { accepted, type Dimension, hint } from "../units/table.js";

/** What a field takes. */
export type FieldKind =
  | { readonly type: "quantity"; readonly dimension: Dimension }
  /** Several of one dimension; one without a unit has that of the next that has. */
  | { readonly type: "series"; readonly dimension: Dimension }
  | { readonly type: "number" }
  | { readonly type: "whole" }
  | { readonly type: "text" }
  | { readonly type: "time" }
  | { readonly type: "check" }
  | { readonly type: "choice"; readonly options: Record<number, string> };

/** One input. */
export interface Field {
  /** Its name in the address. */
  readonly id: string;
  readonly label: string;
  readonly kind: FieldKind;
  readonly required?: boolean;
  /** Shown while it is empty. */
  readonly example?: string;
  /** Kept behind "More inputs". */
  readonly more?: boolean;
}

/** Inputs that come as often as wanted. */
export interface Group {
  readonly id: string;
  readonly label: string;
  readonly one: string;
  readonly least: number;
  readonly fields: readonly Field[];
}

/** What was typed: fields, and rows of groups. */
export interface Typed {
  readonly fields: Readonly<Record<string, string>>;
  readonly rows: Readonly<Record<string, readonly Readonly<Record<string, string>>[]>>;
}

/** What was read of it. */
export class Values {
  constructor(
    private readonly read: ReadonlyMap<string, number | string | boolean | readonly number[]>,
    private readonly groups: ReadonlyMap<string, readonly Values[]> = new Map(),
  ) {}

  /** A number in the base unit of its dimension; undefined where nothing was typed. */
  number(id: string): number | undefined {
    const value = this.read.get(id);
    return typeof value === "number" ? value : undefined;
  }

  /** A number that must be there, which the form has seen to. */
  needed(id: string): number {
    return this.number(id) ?? 0;
  }

  /** Text, empty where nothing was typed. */
  text(id: string): string {
    const value = this.read.get(id);
    return typeof value === "string" ? value : "";
  }

  /** Whether it is ticked. */
  checked(id: string): boolean {
    return this.read.get(id) === true;
  }

  /** Numbers in a row. */
  series(id: string): number[] {
    const value = this.read.get(id);
    return Array.isArray(value) ? [...(value as readonly number[])] : [];
  }

  /** The rows of a group. */
  rows(id: string): readonly Values[] {
    return this.groups.get(id) ?? [];
  }
}

/** Faults by the id of the input, as [`inputId`] makes it. */
export type Faults = ReadonlyMap<string, string>;

/** The id of an input in the document. */
export function inputId(field: string, group?: string, row?: number): string {
  return group === undefined ? `in-${field}` : `in-${group}-${row}-${field}`;
}

/** What the address holds for this form, with the rows that a group has at least. */
export function fromQuery(query: URLSearchParams, fields: readonly Field[], groups: readonly Group[]): Typed {
  const rows: Record<string, Record<string, string>[]> = {};
  for (const group of groups) {
    const columns = group.fields.map((field) => [field.id, query.getAll(`${group.id}.${field.id}`)] as const);
    const count = Math.max(group.least, ...columns.map(([, column]) => column.length));
    rows[group.id] = Array.from({ length: count }, (_, row) =>
      Object.fromEntries(columns.map(([id, column]) => [id, column[row] ?? ""])),
    );
  }
  return { fields: Object.fromEntries(fields.map(({ id }) => [id, query.get(id) ?? ""])), rows };
}

/** The same as an address holds it. Rows keep their empty inputs, so that columns stay beside each other. */
export function toQuery(typed: Typed): URLSearchParams {
  const query = new URLSearchParams();
  for (const [id, text] of Object.entries(typed.fields)) if (text !== "") query.set(id, text);
  for (const [group, rows] of Object.entries(typed.rows)) {
    for (const row of rows) {
      if (Object.values(row).every((text) => text === "")) continue;
      for (const [id, text] of Object.entries(row)) query.append(`${group}.${id}`, text);
    }
  }
  return query;
}

/** Reads all of it; every fault is told. Rows with nothing in them do not count. */
export function readAll(typed: Typed, fields: readonly Field[], groups: readonly Group[]): { values: Values; faults: Faults } {
  const faults = new Map<string, string>();
  const rows = new Map<string, Values[]>();
  for (const group of groups) {
    const read: Values[] = [];
    typed.rows[group.id]?.forEach((row, index) => {
      const empty = Object.values(row).every((text) => text === "");
      if (empty && index >= group.least) return;
      read.push(new Values(readFields(row, group.fields, (id) => inputId(id, group.id, index), faults)));
    });
    rows.set(group.id, read);
  }
  return { values: new Values(readFields(typed.fields, fields, (id) => inputId(id), faults), rows), faults };
}

function readFields(
  typed: Readonly<Record<string, string>>,
  fields: readonly Field[],
  input: (id: string) => string,
  faults: Map<string, string>,
): Map<string, number | string | boolean | readonly number[]> {
  const read = new Map<string, number | string | boolean | readonly number[]>();
  for (const field of fields) {
    const text = (typed[field.id] ?? "").trim();
    if (text === "") {
      if (field.required === true) faults.set(input(field.id), t.bench.required);
      continue;
    }
    const found = readOne(field.kind, text);
    if ("fault" in found) faults.set(input(field.id), found.fault);
    else read.set(field.id, found.value);
  }
  return read;
}

type Read = { value: number | string | boolean | readonly number[] } | { fault: string };

function readOne(kind: FieldKind, text: string): Read {
  switch (kind.type) {
    case "text":
      return { value: text };
    case "check":
      return { value: text === "1" };
    case "choice":
      return { value: Number(text) };
    case "time": {
      const at = Date.parse(text);
      return Number.isNaN(at) ? { fault: t.bench.faults.plain } : { value: at };
    }
    case "whole":
      return /^\d+$/.test(text) ? { value: Number(text) } : { fault: t.bench.faults.whole };
    case "number":
      return /^[-−]?(\d+\.?\d*|\.\d+)$/.test(text) ? { value: Number(text.replace("−", "-")) } : { fault: t.bench.faults.plain };
    case "quantity":
      return readQuantity(kind.dimension, text);
    case "series":
      return readSeries(kind.dimension, text);
  }
}

function readQuantity(dimension: Dimension, text: string): { value: number } | { fault: string } {
  const read = parse(dimension, text);
  if (read.ok) return { value: read.value };
  const [first = "", second = ""] = hint(dimension);
  switch (read.fault) {
    case "number":
      return { fault: t.bench.faults.number(first) };
    case "no-unit":
      return { fault: t.bench.faults["no-unit"](text + first, text + second) };
    case "unit":
      return { fault: t.bench.faults.unit(accepted(dimension)) };
    case "comma":
    case "too-large":
      return { fault: t.bench.faults[read.fault] };
  }
}

/** `108 111 107um`: from the end, because a unit holds for those before it. */
function readSeries(dimension: Dimension, text: string): Read {
  const values: number[] = [];
  let unit = "";
  for (const part of text.split(/\s+/).reverse()) {
    const bare = /^[+\-−]?[\d.]+$/.test(part);
    if (!bare) unit = part.replace(/^[+\-−]?[\d.]+/, "");
    const read = readQuantity(dimension, bare ? part + unit : part);
    if ("fault" in read) return read;
    values.push(read.value);
  }
  return { value: values.reverse() };
}
