/** Figures of a job page, drawn from its records. Pure. */
import type { CoatLayer, GaugeReadings, Pass, Record as JobRecord } from "@lamella/client";

import { millis } from "../times.js";

/** An entry of one kind with its moment. */
export interface Dated<T> {
  readonly at: number;
  readonly value: T;
}

type Case = JobRecord["entry"]["case"];
type ValueOf<C extends Case> = Extract<JobRecord["entry"], { case: C }>["value"];

/** The entries of one kind, in order of time. */
export function entries<C extends Exclude<Case, undefined>>(records: readonly JobRecord[], kind: C): Dated<ValueOf<C>>[] {
  const found = records.flatMap(({ entry, recordTime }): Dated<ValueOf<C>>[] =>
    entry.case === kind
      ? [{ at: recordTime === undefined ? 0 : millis(recordTime), value: entry.value as ValueOf<C> }]
      : [],
  );
  return found.sort((a, b) => a.at - b.at);
}

/** One spot of one panel, read once. */
export interface Round extends Dated<GaugeReadings> {
  /** Before the first pass on that panel, or after it. */
  readonly when: "before" | "after";
  readonly meanUm: number;
}

/** Gauge readings, told apart by the first pass on their panel. */
export function rounds(records: readonly JobRecord[]): Round[] {
  const firstPass = new Map<string, number>();
  for (const { at, value } of entries(records, "pass")) {
    if (!firstPass.has(value.panel)) firstPass.set(value.panel, at);
  }
  return entries(records, "gaugeReadings").map(({ at, value }) => ({
    at,
    value,
    when: at > (firstPass.get(value.panel) ?? Number.POSITIVE_INFINITY) ? "after" : "before",
    meanUm: mean(value.readingsUm),
  }));
}

/** The mean over a panel's spots; of several rounds the last one before and the last one after. */
export function panelMean(all: readonly Round[], panel: string, when: Round["when"]): number | undefined {
  const bySpot = new Map<string, number>();
  for (const round of all) {
    if (round.value.panel === panel && round.when === when) bySpot.set(round.value.spot, round.meanUm);
  }
  return bySpot.size === 0 ? undefined : mean([...bySpot.values()]);
}

/** The mean of some values. */
export function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

/** What a pass was made with, in one line. */
export function setupWords(pass: Pass): string {
  const { machine, pad, liquid } = pass.setup ?? {};
  return [machine?.name, pad?.name, liquid?.name].filter((name) => name !== undefined && name !== "").join(", ");
}

/** A stretch of a coat's cure. */
export interface Stretch {
  readonly kind: "wipe" | "recoat" | "dry" | "wash" | "cure";
  readonly from: number;
  readonly to: number;
}

/** A coat with the stretches that its milestones bound. */
export interface CoatCure {
  readonly coat: CoatLayer;
  readonly at: number;
  readonly stretches: readonly Stretch[];
}

/** Every coat's cure. Windows lie over the waiting that they are part of. */
export function coatCures(records: readonly JobRecord[]): CoatCure[] {
  return entries(records, "coatLayer").map(({ at, value: coat }) => {
    const due = new Map(
      coat.milestones.flatMap(({ kind, dueTime }) => (dueTime === undefined ? [] : [[kind as number, millis(dueTime)]])),
    );
    const stretches: Stretch[] = [];
    const add = (kind: Stretch["kind"], from: number | undefined, to: number | undefined) => {
      if (from !== undefined && to !== undefined && to > from) stretches.push({ kind, from, to });
    };
    const [dry, wash] = [due.get(5), due.get(6)];
    add("wipe", due.get(1), due.get(2));
    add("recoat", due.get(3), due.get(4));
    add("dry", at, dry);
    add("wash", dry, wash);
    add("cure", wash ?? dry, due.get(7));
    return { coat, at, stretches };
  });
}
