/**
 * What a calculator's form is made of, how it lies in the address, and how it is
 * read. Pure: the address is the only place where inputs are kept.
 */
import { t } from "../messages/index.js";
import type { Logged } from "./log.js";
import { type Amount, type FieldKind, type Price, type Ranked, readOne, type Value } from "./read.js";

/** One input. */
export interface Field {
  /** Its name in the address. */
  readonly id: string;
  readonly label: string;
  readonly kind: FieldKind;
  readonly required?: boolean;
  /** Not required where one of these inputs of the form, or of its row, is filled in. */
  readonly unless?: readonly string[];
  /** Shown while it is empty. */
  readonly example?: string;
  /** Folded away, under that name. */
  readonly more?: string;
}

/** Inputs that come as often as wanted. */
export interface Group {
  readonly id: string;
  readonly label: string;
  readonly one: string;
  /** Rows on show from the start. */
  readonly least: number;
  /** Even those rows may stay empty. */
  readonly mayBeEmpty?: boolean;
  /** Folded away, under that name. */
  readonly more?: string;
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
    private readonly read: ReadonlyMap<string, Value>,
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

  /** The lines of a log. */
  log(id: string): readonly Logged[] {
    const value = this.read.get(id);
    return Array.isArray(value) ? (value as readonly Logged[]) : [];
  }

  /** Millilitres, where an amount is by volume. */
  ml(id: string): number | undefined {
    const value = this.read.get(id) as Amount | undefined;
    return value !== undefined && "ml" in value ? value.ml : undefined;
  }

  /** Grams, where an amount is by weight. */
  grams(id: string): number | undefined {
    const value = this.read.get(id) as Amount | undefined;
    return value !== undefined && "g" in value ? value.g : undefined;
  }

  /** A thing with its rank. */
  ranked(id: string): Ranked | undefined {
    return this.read.get(id) as Ranked | undefined;
  }

  /** Money. */
  money(id: string): Price | undefined {
    return this.read.get(id) as Price | undefined;
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

/** Servers refuse addresses that are much longer. */
const LONGEST_QUERY = 20_000;

/** The same for an address that a server will take: where it would be too long, without its logs. */
export function toAddress(typed: Typed, fields: readonly Field[]): { query: URLSearchParams; whole: boolean } {
  const query = toQuery(typed);
  if (query.toString().length <= LONGEST_QUERY) return { query, whole: true };
  for (const { id, kind } of fields) if (kind.type === "log") query.delete(id);
  return { query, whole: false };
}

/** Reads all of it; every fault is told. Rows with nothing in them do not count. */
export function readAll(typed: Typed, fields: readonly Field[], groups: readonly Group[]): { values: Values; faults: Faults } {
  const faults = new Map<string, string>();
  const rows = new Map<string, Values[]>();
  for (const group of groups) {
    const read: Values[] = [];
    typed.rows[group.id]?.forEach((row, index) => {
      const empty = Object.values(row).every((text) => text === "");
      if (empty && (index >= group.least || group.mayBeEmpty === true)) return;
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
): Map<string, Value> {
  const read = new Map<string, Value>();
  for (const field of fields) {
    const text = (typed[field.id] ?? "").trim();
    if (text === "") {
      const spared = field.unless?.some((other) => (typed[other] ?? "").trim() !== "") === true;
      if (field.required === true && !spared) faults.set(input(field.id), t.bench.required);
      continue;
    }
    const found = readOne(field.kind, text);
    if ("fault" in found) faults.set(input(field.id), found.fault);
    else read.set(field.id, found.value);
  }
  return read;
}
