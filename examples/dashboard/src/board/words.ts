/** The words of the board for a promise, a wait and an event. */
import type { Condition, Job, JobEvent } from "@lamella/client";

import type { CureMoment, Waiting } from "../live/waiting.js";
import { t } from "../messages/index.js";
import { localMoments, millis, moment, nearness, type Nearness, span } from "../times.js";

/** How a promise stands. */
export interface PromiseWords {
  readonly near: Nearness | "none";
  readonly left: string;
  readonly by: string;
}

/** Time left to the promise, and the promise. */
export function promiseWords(job: Job, now: number): PromiseWords {
  if (job.promiseTime === undefined) return { near: "none", left: t.board.noPromise, by: "" };
  const at = millis(job.promiseTime);
  const near = nearness(at, now);
  return {
    near,
    left: near === "late" ? t.board.late(span(at - now)) : t.board.left(span(at - now)),
    by: t.board.by(moment(at, now)),
  };
}

/** What a job waits for. */
export interface WaitWords {
  readonly kind: "free" | "approval" | "cure" | "gate";
  readonly text: string;
  readonly more: number;
}

/** The one thing to tell first: a missing yes, then what must be done, then what only takes time. */
export function waitWords(waiting: Waiting, now: number): WaitWords {
  const { conditions } = waiting;
  const rest = conditions.length - 1;
  if (conditions.length === 0) {
    return { kind: "free", text: t.board.freeTo[waiting.toStage] ?? "", more: 0 };
  }
  const gate = conditions.find(({ type }) => type !== "APPROVAL_MISSING" && type !== "CURE_WINDOW_OPEN");
  if (gate === undefined && conditions.some(({ type }) => type === "APPROVAL_MISSING")) {
    return { kind: "approval", text: shortCondition(conditions[0], now), more: rest };
  }
  if (gate !== undefined) return { kind: "gate", text: shortCondition(gate, now), more: rest };
  const cure = lastHold(waiting.cure, now);
  const text = cure === undefined ? conditionText(conditions[0]?.description ?? "", now) : t.board.curing(cureText(cure, now));
  return { kind: "cure", text, more: 0 };
}

function shortCondition(condition: Condition | undefined, now: number): string {
  if (condition === undefined) return "";
  const subject = condition.subject.slice(condition.subject.indexOf("/") + 1);
  return t.board.conditions[condition.type]?.(subject) ?? conditionText(condition.description, now);
}

/** What the car waits for longest: dry coats and settled films hold it, not a wash or the full cure. */
function lastHold(cure: readonly CureMoment[], now: number): CureMoment | undefined {
  return cure.filter(({ kind, at }) => at > now && (kind === "settled" || kind === 5)).at(-1);
}

/** A moment of a cure: `dry 21:40`. */
export function cureText(cure: CureMoment, now: number): string {
  return t.board.cureMoment(t.cure[cure.kind] ?? "", moment(cure.at, now));
}

/** A condition in the daemon's words, with local times and without its quoting marks. */
export function conditionText(description: string, now: number): string {
  const text = localMoments(description, now).replaceAll("`", "");
  return text.charAt(0).toLocaleUpperCase() + text.slice(1);
}

/** What an event was. */
export function eventWords({ change }: JobEvent): string {
  switch (change.case) {
    case "stageChanged":
      return t.board.nowAt(t.stage[change.value.toStage] ?? "");
    case "recorded":
      return t.record[change.value.entry.case ?? "other"] ?? t.record["other"] ?? "";
    case undefined:
      return "";
    default:
      // A newer daemon may tell of what this page does not know.
      return t.board.event[change.case] ?? t.board.event["other"] ?? "";
  }
}

/** The name of the job that an event is about, as far as it is told. */
export function eventJobName(event: JobEvent, jobs: ReadonlyMap<string, Job>): string {
  const { change } = event;
  const told =
    change.case === "created" || change.case === "deleted" || change.case === "undeleted"
      ? change.value
      : change.case === "updated" || change.case === "stageChanged" || change.case === "quoteAccepted"
        ? change.value.job
        : jobs.get(event.job);
  return told?.displayName ?? event.job.replace(/^jobs\//, "");
}
