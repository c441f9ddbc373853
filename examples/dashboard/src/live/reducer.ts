/**
 * The jobs as the watch stream tells them: pure, so that it can be tested without
 * a daemon. Every event has a sequence number in the daemon's one order; one that
 * is not above the last has been seen and changes nothing.
 */
import { type Job, type JobEvent, Stage, type WatchJobsResponse } from "@lamella/client";

/** What the page knows, up to `reached`. */
export interface Live {
  /** Jobs that are still in the shop's hands, by resource name. */
  readonly jobs: ReadonlyMap<string, Job>;
  /** Sequence number of the last event that was taken in. */
  readonly reached: bigint;
  /** Where to resume. */
  readonly token: string;
  /** The last events, newest first. */
  readonly recent: readonly JobEvent[];
  /** The last event of each job that had one. */
  readonly touched: ReadonlyMap<string, bigint>;
  /** How many events were taken in. */
  readonly taken: number;
}

/** How many events are kept for show. */
const RECENT = 30;

/** What is known from a list, whose resume token leads to every later change. */
export function fromList(jobs: readonly Job[], token: string): Live {
  return {
    jobs: new Map(jobs.filter(isOpen).map((job) => [job.name, job])),
    reached: sequenceOf(token),
    token,
    recent: [],
    touched: new Map(),
    taken: 0,
  };
}

/** Takes in messages of the stream in the order they came. */
export function fold(live: Live, messages: readonly WatchJobsResponse[]): Live {
  const jobs = new Map(live.jobs);
  const touched = new Map(live.touched);
  const fresh: JobEvent[] = [];
  let { reached, token } = live;
  for (const { message, resumeToken } of messages) {
    if (message.case === "event") {
      const event = message.value;
      if (event.sequence <= reached) continue;
      reached = event.sequence;
      const job = jobAfter(event);
      if (job !== undefined) put(jobs, job);
      touched.set(event.job, event.sequence);
      fresh.push(event);
    }
    // A message that was seen before has an older token.
    if (sequenceOf(resumeToken) >= sequenceOf(token)) token = resumeToken;
  }
  if (fresh.length === 0) return token === live.token ? live : { ...live, token };
  const recent = [...fresh.reverse(), ...live.recent].slice(0, RECENT);
  return { jobs, reached, token, recent, touched, taken: live.taken + fresh.length };
}

/** The job as it is after an event; undefined where its own fields stay as they were. */
export function jobAfter(event: JobEvent): Job | undefined {
  const { change } = event;
  switch (change.case) {
    case "created":
    case "deleted":
    case "undeleted":
      return change.value;
    case "updated":
    case "stageChanged":
    case "quoteAccepted":
      return change.value.job;
    default:
      return undefined;
  }
}

/** Whether the shop still has to do something about it. */
export function isOpen(job: Job): boolean {
  return job.deleteTime === undefined && job.stage >= Stage.BOOKED && job.stage <= Stage.READY;
}

function put(jobs: Map<string, Job>, job: Job): void {
  if (isOpen(job)) jobs.set(job.name, job);
  else jobs.delete(job.name);
}

/** Tokens are opaque by contract; one that is no number never counts as older. */
function sequenceOf(token: string): bigint {
  return /^\d+$/.test(token) ? BigInt(token) : 0n;
}
