/** Room, order and what is due: properties rather than pictures. */
import { create, type Job, JobSchema, Stage, timestampFromDate } from "@lamella/client";
import { describe, expect, test } from "vitest";

import { byUrgency, due, share } from "../../src/board/plan.js";
import { waitWords } from "../../src/board/words.js";
import { backoffMs } from "../../src/live/backoff.js";
import type { Waiting } from "../../src/live/waiting.js";

const NOW = Date.UTC(2026, 2, 2, 12);
const HOUR = 3_600_000;
const job = (id: string, promiseHours?: number): Job =>
  create(JobSchema, {
    name: `jobs/${id}`,
    displayName: id,
    stage: Stage.CURING,
    ...(promiseHours !== undefined && { promiseTime: timestampFromDate(new Date(NOW + promiseHours * HOUR)) }),
  });

describe("share", () => {
  test("every lane that has a job shows one row, and no room is given to none", () => {
    expect(share([100, 1, 0, 0, 4, 0, 1], 3, 7)).toEqual([9, 3, 0, 0, 6, 0, 3]);
  });
  test("nothing more is given than there is to show", () => {
    expect(share([1, 1, 0, 0, 0, 0, 0], 3, 7)).toEqual([3, 3, 0, 0, 0, 0, 0]);
  });
});

describe("due", () => {
  test("the latest miss first, then what comes next, and the rest is counted", () => {
    const jobs = [job("a", 5), job("b", -1), job("c", -30), job("d", -60), job("e"), job("f", 1), job("g", 2)];
    const { list, late } = due(jobs, new Map(), NOW, 4);
    expect(list.map(({ job }) => job.displayName)).toEqual(["b", "c", "f", "g"]);
    expect(late).toBe(1);
  });
  test("a cure counts until its moment and no longer", () => {
    const cure = [
      { kind: 5 as const, at: NOW - 1, product: "x", panels: [] },
      { kind: 6 as const, at: NOW + HOUR, product: "x", panels: [] },
    ];
    const waiting = new Map([["jobs/e", { version: 0n, toStage: Stage.READY, conditions: [], cure }]]);
    expect(due([job("e")], waiting, NOW, 4).list.map(({ cure }) => cure?.kind)).toEqual([6]);
  });
});

test("promised jobs come before others, the earliest first", () => {
  const order = [job("late", -1), job("none"), job("soon", 1)].sort(byUrgency).map(({ displayName }) => displayName);
  expect(order).toEqual(["late", "soon", "none"]);
});

test("what must be done is told before what only takes time", () => {
  const condition = (type: string, subject = "jobs/a", description = type) => ({ type, subject, description });
  const waiting = (...conditions: Waiting["conditions"]): Waiting => ({
    version: 0n,
    toStage: Stage.READY,
    conditions,
    cure: [{ kind: 5, at: NOW + HOUR, product: "x", panels: [] }],
  });
  expect(waitWords(waiting(), NOW).kind).toBe("free");
  expect(waitWords(waiting(condition("CURE_WINDOW_OPEN")), NOW).kind).toBe("cure");
  expect(waitWords(waiting(condition("CURE_WINDOW_OPEN"), condition("APPROVAL_MISSING")), NOW).kind).toBe("approval");
  expect(waitWords(waiting(condition("CURE_WINDOW_OPEN"), condition("PART_OFF", "parts/front badge")), NOW)).toEqual({
    kind: "gate",
    text: "front badge to go back on",
    more: 1,
  });
  // A condition from a newer daemon stands in its own words.
  expect(waitWords(waiting(condition("NEW_ONE", "jobs/a", "the `key` is lost")), NOW).text).toBe("The key is lost");
});

test("waits double up to eight seconds", () => {
  expect([0, 1, 2, 5, 50].map((attempt) => backoffMs(attempt, 0))).toEqual([250, 500, 1000, 8000, 8000]);
  expect(backoffMs(3, 1)).toBe(1500);
});
