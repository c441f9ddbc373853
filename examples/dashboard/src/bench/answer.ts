/** What a calculator answers, in a form that one view can show. */
import type { Caution } from "@lamella/client";
import type { ChartConfiguration } from "chart.js";

import type { Palette } from "../ui/Chart.js";
import type { Kind } from "../units/show.js";
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

/** All of it. */
export interface Answer {
  /** The first word on what to do, where the answer has one. */
  readonly verdict?: { readonly text: string; readonly tone: "go" | "stop" | "plain"; readonly sentence: string };
  /** In the largest type. */
  readonly headline: readonly Fact[];
  readonly facts: readonly Fact[];
  /** Further sentences. */
  readonly lines: readonly string[];
  readonly tables: readonly Rows[];
  readonly chart?: { readonly what: string; readonly draw: (colors: Palette) => ChartConfiguration };
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

/** A figure, where there is one. */
export function fact(id: string, label: string, kind: Kind, value: number | undefined): Fact[] {
  return value === undefined ? [] : [{ id, label, kind, value }];
}
