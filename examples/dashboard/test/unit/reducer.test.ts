/**
 * The stream as the daemon promises it in job_service.proto and job_event.proto:
 * sequence numbers in one order, gaps allowed, a resume token with each message.
 */
import { create, type Job, JobEventSchema, JobSchema, Stage, timestampNow, type WatchJobsResponse, WatchJobsResponseSchema } from "@lamella/client";
import { describe, expect, test } from "vitest";

import { fold, fromList, isOpen, type Live } from "../../src/live/reducer.js";

const job = (id: string, stage: Stage, displayName = id): Job => create(JobSchema, { name: `jobs/${id}`, stage, displayName });

const moved = (sequence: number, id: string, toStage: Stage): WatchJobsResponse =>
  create(WatchJobsResponseSchema, {
    resumeToken: String(sequence),
    message: {
      case: "event",
      value: create(JobEventSchema, {
        sequence: BigInt(sequence),
        job: `jobs/${id}`,
        change: { case: "stageChanged", value: { toStage, job: job(id, toStage) } },
      }),
    },
  });

const heartbeat = (token: number): WatchJobsResponse =>
  create(WatchJobsResponseSchema, { resumeToken: String(token), message: { case: "heartbeat", value: {} } });

const start = (): Live => fromList([job("a", Stage.BOOKED), job("b", Stage.BOOKED)], "10");

/** Numbers that look random and are the same in every run (Lehmer's generator; Park and Miller 1988). */
function* draws(seed: number): Generator<number, never> {
  for (;;) yield (seed = (seed * 48271) % 2147483647) / 2147483647;
}

describe("fold", () => {
  test("takes in each event once and keeps the token", () => {
    const live = fold(start(), [moved(12, "a", Stage.RECEIVED), heartbeat(15)]);
    expect(live.jobs.get("jobs/a")?.stage).toBe(Stage.RECEIVED);
    expect([live.reached, live.token, live.taken]).toEqual([12n, "15", 1]);
  });

  test("changes nothing for an event that was seen, whatever it says", () => {
    const once = fold(start(), [moved(12, "a", Stage.RECEIVED)]);
    const twice = fold(once, [moved(12, "a", Stage.READY), moved(9, "b", Stage.READY)]);
    expect(twice).toBe(once);
  });

  test("never goes back to an older token", () => {
    expect(fold(fold(start(), [heartbeat(20)]), [heartbeat(11)]).token).toBe("20");
  });

  test("drops a job that leaves, is cancelled or deleted, and takes it back", () => {
    const deleted = create(WatchJobsResponseSchema, {
      resumeToken: "14",
      message: {
        case: "event",
        value: create(JobEventSchema, {
          sequence: 14n,
          job: "jobs/b",
          change: { case: "deleted", value: create(JobSchema, { name: "jobs/b", stage: Stage.BOOKED, deleteTime: timestampNow() }) },
        }),
      },
    });
    const gone = fold(start(), [moved(12, "a", Stage.HANDED_OVER), deleted]);
    expect([...gone.jobs.keys()]).toEqual([]);
    const undeleted = create(WatchJobsResponseSchema, {
      resumeToken: "15",
      message: {
        case: "event",
        value: create(JobEventSchema, { sequence: 15n, job: "jobs/b", change: { case: "undeleted", value: job("b", Stage.BOOKED) } }),
      },
    });
    expect([...fold(gone, [undeleted]).jobs.keys()]).toEqual(["jobs/b"]);
  });

  test("a record touches its job and leaves its fields alone", () => {
    const recorded = create(WatchJobsResponseSchema, {
      resumeToken: "11",
      message: {
        case: "event",
        value: create(JobEventSchema, {
          sequence: 11n,
          job: "jobs/a",
          change: { case: "recorded", value: { entry: { case: "note", value: { text: "x" } } } },
        }),
      },
    });
    const before = start();
    const live = fold(before, [recorded]);
    expect(live.jobs.get("jobs/a")).toBe(before.jobs.get("jobs/a"));
    expect(live.touched.get("jobs/a")).toBe(11n);
  });

  test("cut and resumed anywhere, overlapping as it likes, comes to the same as unbroken", () => {
    const stages = [Stage.RECEIVED, Stage.ASSESSED, Stage.APPROVED, Stage.IN_WORK, Stage.CURING, Stage.READY, Stage.HANDED_OVER];
    const draw = draws(20_261_125);
    const next = () => draw.next().value;
    const stream = Array.from({ length: 200 }, (_, index) =>
      moved(11 + 2 * index, next() < 0.5 ? "a" : "b", stages[Math.floor(next() * stages.length)] ?? Stage.READY),
    );
    const whole = fold(start(), stream);
    for (let round = 0; round < 200; round++) {
      let live = start();
      while (live.token !== whole.token) {
        // What the daemon sends from a token on, cut off somewhere; now and then it begins too early.
        const from = stream.findIndex((message) => BigInt(message.resumeToken) > BigInt(live.token));
        const early = Math.max(0, from - Math.floor(next() * 5));
        live = fold(live, stream.slice(early, from + 1 + Math.floor(next() * 20)));
      }
      expect([...live.jobs].sort()).toEqual([...whole.jobs].sort());
      expect([live.reached, live.taken]).toEqual([whole.reached, 200]);
      expect(live.recent.map((event) => event.sequence)).toEqual(whole.recent.map((event) => event.sequence));
    }
  });
});

test("a job is open from booked to ready", () => {
  const open = Object.values(Stage).filter((stage): stage is Stage => typeof stage === "number" && isOpen(job("a", stage)));
  expect(open).toEqual([1, 2, 3, 4, 5, 6, 7]);
});
