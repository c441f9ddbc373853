/** What stands where on the board: order, room, and what is due. Pure. */
import { type Job, Stage } from "@lamella/client";

import type { CureMoment, Waiting } from "../live/waiting.js";
import { millis } from "../times.js";

/** The stages that have a lane, in the order of work. */
export const LANES = [
  Stage.BOOKED,
  Stage.RECEIVED,
  Stage.ASSESSED,
  Stage.APPROVED,
  Stage.IN_WORK,
  Stage.CURING,
  Stage.READY,
] as const;

/** Something with a time. */
export interface Due {
  readonly at: number;
  readonly job: Job;
  /** A promise, or a moment of a cure. */
  readonly cure?: CureMoment;
}

/** Promised jobs first, the earliest on top; the others by name. */
export function byUrgency(a: Job, b: Job): number {
  const [at, bt] = [promise(a), promise(b)];
  if (at !== bt) return at - bt;
  return a.displayName.localeCompare(b.displayName) || a.name.localeCompare(b.name);
}

function promise(job: Job): number {
  return job.promiseTime === undefined ? Number.POSITIVE_INFINITY : millis(job.promiseTime);
}

/** Jobs by lane, the most urgent first. */
export function lanes(jobs: Iterable<Job>): Map<Stage, Job[]> {
  const found = new Map<Stage, Job[]>(LANES.map((stage) => [stage, []]));
  for (const job of jobs) found.get(job.stage)?.push(job);
  for (const lane of found.values()) lane.sort(byUrgency);
  return found;
}

/**
 * How many jobs each lane shows: a row for each that has any, and the rows that
 * are left over one by one to the lane with the fewest that still hides some; of
 * equals to the later stage, whose cars are nearer to leaving.
 */
export function share(counts: readonly number[], columns: number, rows: number): number[] {
  const given: number[] = counts.map((count) => (count > 0 ? 1 : 0));
  let left = rows - given.reduce((sum, n) => sum + n, 0);
  while (left > 0) {
    const hiding = given.map((n, lane) => ({ n, lane })).filter(({ n, lane }) => (counts[lane] ?? 0) > n * columns);
    const [next] = hiding.sort((a, b) => a.n - b.n || b.lane - a.lane);
    if (next === undefined) break;
    given[next.lane] = next.n + 1;
    left--;
  }
  return given.map((n) => n * columns);
}

/**
 * What comes next: a promise that is past is late until the car has left, and
 * of the cures what is still ahead. `late` counts the past ones that find no room.
 */
export function due(
  jobs: Iterable<Job>,
  waiting: ReadonlyMap<string, Waiting>,
  now: number,
  room: number,
): { list: Due[]; late: number } {
  const past: Due[] = [];
  const ahead: Due[] = [];
  for (const job of jobs) {
    if (job.promiseTime !== undefined) {
      const at = millis(job.promiseTime);
      (at <= now ? past : ahead).push({ at, job });
    }
    for (const cure of waiting.get(job.name)?.cure ?? []) {
      if (cure.at > now) ahead.push({ at: cure.at, job, cure });
    }
  }
  past.sort((a, b) => b.at - a.at);
  ahead.sort((a, b) => a.at - b.at);
  // The latest misses first: they are the ones that can still be mended.
  const shown = Math.min(past.length, Math.max(2, room - ahead.length));
  return { list: [...past.slice(0, shown), ...ahead].slice(0, room), late: past.length - shown };
}
