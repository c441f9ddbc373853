/**
 * What each job waits for. The daemon says it: it is asked whether the job could
 * move on, with validate_only, and answers with every condition that is not met.
 * Jobs that cure are asked for their coats and films as well, for the times.
 */
import {
  type Condition,
  CureMilestoneKind,
  type Job,
  type Record as JobRecord,
  refusalOf,
  Stage,
} from "@lamella/client";
import { signal } from "@preact/signals";

import { lamella } from "../api.js";
import { millis } from "../times.js";

/** A moment in a cure. */
export interface CureMoment {
  readonly kind: CureMilestoneKind | "settled";
  readonly at: number;
  /** The coating or film. */
  readonly product: string;
  readonly panels: readonly string[];
}

/** What a job waits for. */
export interface Waiting {
  /** The event after which this was asked. */
  readonly version: bigint;
  /** Where it could go next. */
  readonly toStage: Stage;
  /** What is in the way; empty when it may move. */
  readonly conditions: readonly Condition[];
  /** Of coats and films, in order of time. */
  readonly cure: readonly CureMoment[];
}

/** By job name; a job that was not asked for yet is missing. */
export const waiting = signal<ReadonlyMap<string, Waiting>>(new Map());

/** Few at a time: a browser opens six connections, and the watch holds one. */
const AT_ONCE = 3;
/** Stages in which records may hold a cure. */
const CURING = [Stage.IN_WORK, Stage.CURING, Stage.READY];

const queue = new Map<string, { job: Job; version: bigint }>();
const asking = new Set<string>();

/** Asks for those whose answer is missing or older than their last event. */
export function ask(jobs: readonly Job[], touched: ReadonlyMap<string, bigint>): void {
  for (const job of jobs) {
    const version = touched.get(job.name) ?? 0n;
    const known = waiting.peek().get(job.name);
    const cured = known?.conditions.some((condition) => condition.type === "CURE_WINDOW_OPEN" && !ahead(known.cure));
    if (known === undefined || known.version < version || cured) queue.set(job.name, { job, version });
  }
  pump();
}

function ahead(cure: readonly CureMoment[]): boolean {
  return cure.some((moment) => moment.at > Date.now());
}

function pump(): void {
  for (const [name, { job, version }] of queue) {
    if (asking.size >= AT_ONCE) return;
    if (asking.has(name)) continue;
    queue.delete(name);
    asking.add(name);
    void find(job, version)
      .then((found) => {
        waiting.value = new Map(waiting.peek()).set(name, found);
      })
      // Without an answer the card says nothing, and the next event or minute asks again.
      .catch(() => {})
      .finally(() => {
        asking.delete(name);
        pump();
      });
  }
}

async function find(job: Job, version: bigint): Promise<Waiting> {
  const [gate, records] = await Promise.all([
    gateOf(job),
    CURING.includes(job.stage) ? recordsOf(job.name) : Promise.resolve([]),
  ]);
  return { version, ...gate, cure: cureMoments(records) };
}

/** What keeps a job from its next stage. Without anything to cure, the next is the one after. */
export async function gateOf(job: Job): Promise<{ toStage: Stage; conditions: readonly Condition[] }> {
  const toStage = job.stage + 1;
  const conditions = await conditionsOf(job.name, toStage);
  const nothingToCure = conditions.some((condition) => condition.type === "NOTHING_TO_CURE");
  if (toStage !== Stage.CURING || !nothingToCure) return { toStage, conditions };
  return { toStage: Stage.READY, conditions: await conditionsOf(job.name, Stage.READY) };
}

async function conditionsOf(name: string, toStage: Stage): Promise<readonly Condition[]> {
  try {
    await lamella.job.advanceStage({ name, toStage, validateOnly: true });
    return [];
  } catch (error) {
    const { conditions } = refusalOf(error);
    if (conditions.length === 0) throw error;
    return conditions;
  }
}

/** All of a job's records. */
export async function recordsOf(parent: string): Promise<JobRecord[]> {
  const records: JobRecord[] = [];
  let pageToken = "";
  do {
    const page = await lamella.job.listRecords({ parent, pageSize: 1000, pageToken });
    records.push(...page.records);
    pageToken = page.nextPageToken;
  } while (pageToken !== "");
  return records;
}

/** When something may or must happen to coats and films, in order of time. */
export function cureMoments(records: readonly JobRecord[]): CureMoment[] {
  const moments = records.flatMap(({ entry }): CureMoment[] => {
    if (entry.case === "coatLayer") {
      const { coating, panels, milestones } = entry.value;
      return milestones.flatMap(({ kind, dueTime }) =>
        dueTime === undefined ? [] : [{ kind, at: millis(dueTime), product: coating?.product ?? "", panels }],
      );
    }
    if (entry.case === "filmPiece" && entry.value.settledTime !== undefined) {
      const { film, panel, settledTime } = entry.value;
      return [{ kind: "settled", at: millis(settledTime), product: film, panels: [panel] }];
    }
    return [];
  });
  return moments.sort((a, b) => a.at - b.at);
}
