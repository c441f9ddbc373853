/**
 * Keeps the page in step with the daemon: lists once, then watches from the
 * list's resume token, and resumes from the last token whenever the stream ends.
 */
import { Code, ConnectError, type Job, Stage, type WatchJobsResponse } from "@lamella/client";
import { effect, signal } from "@preact/signals";

import { lamella } from "../api.js";
import { backoffMs } from "./backoff.js";
import { fold, fromList, type Live } from "./reducer.js";

/** Whether what is shown is what is so. */
export type Link =
  | { readonly kind: "loading" }
  | { readonly kind: "live" }
  /** Not since `since`; the next try is at `retryAt`, or under way when that is past. */
  | { readonly kind: "stale"; readonly since: number; readonly retryAt: number; readonly why: string };

/** What is known; null before the first list. */
export const live = signal<Live | null>(null);
/** Whether it is current. */
export const link = signal<Link>({ kind: "loading" });

/** A heartbeat comes every 15 s; after two missed ones the stream counts as dead. */
const SILENCE_MS = 35_000;
const OPEN_STAGES = [
  Stage.BOOKED,
  Stage.RECEIVED,
  Stage.ASSESSED,
  Stage.APPROVED,
  Stage.IN_WORK,
  Stage.CURING,
  Stage.READY,
];

/** Ends the wait before the next try. */
let hurry: () => void = () => {};

/** Tries again at once. */
export function tryNow(): void {
  hurry();
}

/** Runs for as long as the page is open. */
export async function keepWatching(): Promise<never> {
  window.addEventListener("online", tryNow);
  for (let attempt = 0; ; attempt++) {
    let why = "";
    try {
      live.value ??= await list();
      await follow(() => {
        attempt = 0;
      });
    } catch (error) {
      why = ConnectError.from(error).rawMessage;
      // The daemon does not know this token: it serves another store now.
      if (ConnectError.from(error).code === Code.OutOfRange) live.value = null;
    }
    const wait = backoffMs(attempt);
    stale(why, Date.now() + wait);
    await new Promise<void>((done) => {
      hurry = done;
      setTimeout(done, wait);
    });
  }
}

/** Every open job, from all pages. The first page's token covers what changes while the others come. */
async function list(): Promise<Live> {
  const jobs: Job[] = [];
  let token: string | undefined;
  let pageToken = "";
  do {
    const page = await lamella.job.listJobs({ pageSize: 1000, pageToken, filter: { stages: OPEN_STAGES } });
    jobs.push(...page.jobs);
    token ??= page.resumeToken;
    pageToken = page.nextPageToken;
  } while (pageToken !== "");
  return fromList(jobs, token);
}

/** Follows the stream to its end. What was missed is taken in at once, so that no one sees the past go by. */
async function follow(onMessage: () => void): Promise<void> {
  const abort = new AbortController();
  let silence = setTimeout(() => {}, 0);
  const heard = () => {
    clearTimeout(silence);
    silence = setTimeout(() => abort.abort(new Error("silence")), SILENCE_MS);
  };
  heard();
  try {
    const stream = lamella.job.watchJobs({ resumeToken: live.value?.token ?? "" }, { signal: abort.signal });
    let missed: WatchJobsResponse[] | null = [];
    for await (const message of stream) {
      heard();
      onMessage();
      if (missed !== null) {
        missed.push(message);
        if (message.message.case !== "caughtUp") continue;
        take(missed);
        missed = null;
        link.value = { kind: "live" };
      } else {
        take([message]);
      }
    }
  } finally {
    clearTimeout(silence);
    abort.abort();
  }
}

function take(messages: readonly WatchJobsResponse[]): void {
  if (live.value !== null) live.value = fold(live.value, messages);
}

/** Keeps the moment since which the page is behind, over all tries. */
function stale(why: string, retryAt: number): void {
  const before = link.peek();
  const since = before.kind === "stale" ? before.since : Date.now();
  link.value = { kind: "stale", since, retryAt, why };
}

/** The time now, by the second; only what must count along reads it. */
export const now = signal(Date.now());
setInterval(() => {
  now.value = Date.now();
}, 1000);

/** The time now, by the minute: most spans are told in minutes. */
export const minute = signal(Date.now());
effect(() => {
  if (Math.floor(now.value / 60_000) !== Math.floor(minute.peek() / 60_000)) minute.value = now.value;
});
