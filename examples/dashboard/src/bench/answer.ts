/** What a calculator answers, in a form that one view can show. */
import type { Caution } from "@lamella/client";
import type { ChartConfiguration } from "chart.js";

import { t } from "../messages/index.js";
import type { Palette } from "../ui/Chart.js";
import type { Kind } from "../units/show.js";
import { short } from "../units/system.js";
import type { Field, Group, Values } from "./form.js";

/** One figure of an answer. */
export interface Fact {
  /** Its path in the API's JSON, for programs and tests. */
  readonly id: string;
  readonly label: string;
  readonly kind: Kind;
  readonly value: number;
}

/** Figures in rows. */
export interface Rows {
  readonly caption: string;
  readonly head: readonly string[];
  readonly rows: readonly (readonly string[])[];
}

/** What lies on a roll, drawn to scale; its figures are in a table as well. */
export interface Layout {
  readonly what: string;
  readonly caption: string;
  /** Of the roll, millimetres. */
  readonly acrossMm: number;
  /** Of the pull, millimetres. */
  readonly alongMm: number;
  readonly blanks: readonly Blank[];
}

/** A piece on a roll, millimetres from its left edge and the start of the pull. */
export interface Blank {
  readonly label: string;
  readonly xMm: number;
  readonly yMm: number;
  readonly widthMm: number;
  readonly heightMm: number;
}

/** All of it. */
export interface Answer {
  /** The first word on what to do, where the answer has one. */
  readonly verdict?: { readonly text: string; readonly tone: "go" | "stop" | "plain"; readonly sentence: string };
  /** In the largest type. */
  readonly headline: readonly Fact[];
  readonly facts: readonly Fact[];
  /** Further sentences. */
  readonly lines: readonly string[];
  /** How it was reckoned, line by line; folded away. */
  readonly sums?: readonly string[];
  readonly tables: readonly Rows[];
  readonly layout?: Layout;
  /** With the table of what it draws. */
  readonly chart?: { readonly what: string; readonly draw: (colors: Palette) => ChartConfiguration; readonly table: Rows };
  readonly cautions: readonly Caution[];
  readonly model: string;
}

/** A calculator: its form, its question, its answer. */
export interface Calculator {
  readonly id: string;
  readonly name: string;
  readonly about: string;
  readonly fields: readonly Field[];
  readonly groups: readonly Group[];
  /** Asks the daemon. */
  ask(values: Values): Promise<Answer>;
}

/** A property only where there is a value: an unset field is not a zero. */
export function optional<K extends string, V>(key: K, value: V | undefined): { [k in K]?: V } {
  return (value === undefined ? {} : { [key]: value }) as { [k in K]?: V };
}

/** A quantity in another unit of which so many make one of its own. */
export function scaled(value: number | undefined, divisor: number): number | undefined {
  return value === undefined ? undefined : value / divisor;
}

/** A quantity as an answer writes it, or a dash. */
export function told(kind: Kind, value: number | undefined): string {
  return value === undefined ? t.app.none : short(kind, value);
}

/** The names of an enum's values without "not set", which is what an empty choice means. */
export function omitUnset(names: Record<number, string>): Record<number, string> {
  return Object.fromEntries(Object.entries(names).filter(([value]) => value !== "0"));
}

/** A figure, where there is one. */
export function fact(id: string, label: string, kind: Kind, value: number | undefined): Fact[] {
  return value === undefined ? [] : [{ id, label, kind, value }];
}
