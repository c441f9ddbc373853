/**
 * Checks the installed TypeScript client against a live daemon.
 *
 * usage: behaviour.js SERVICE... with LAMELLA_SERVER set
 *
 * SERVICEs are those of the protos. Any surprise is an error, and so an exit code
 * other than 0.
 */

import {
  Code,
  connect,
  ConnectError,
  create,
  DiluteRequestSchema,
  type Lamella,
  refusalOf,
  type Refusal,
  services,
  Stage,
  timestampDate,
} from "@lamella/client";

/** As much of Node as is used here; the package itself needs no types of Node. */
declare const process: { argv: string[]; env: Record<string, string | undefined> };

const SERVER = process.env["LAMELLA_SERVER"] ?? "";
const lamella = connect();

function expectEqual(found: unknown, expected: unknown): void {
  const [a, b] = [JSON.stringify(found), JSON.stringify(expected)];
  if (a !== b) {
    throw new Error(`expected ${b}, got ${a}`);
  }
}

async function refused(call: Promise<unknown>): Promise<Refusal> {
  const answer = await call.then(
    (value) => ({ value }),
    (error: unknown) => ({ error }),
  );
  if ("value" in answer) {
    throw new Error("expected a refusal, got an answer");
  }
  expectEqual(answer.error instanceof ConnectError, true);
  return refusalOf(answer.error);
}

const newJob = () => lamella.job.createJob({ job: { displayName: "Blue estate" } });

const checks: Record<string, () => Promise<void>> = {
  "every service of the protos has a client": async () => {
    const found = Object.values(services).map((service) => service.typeName);
    expectEqual(found.sort(), process.argv.slice(2).sort());
    for (const [name, service] of Object.entries(services)) {
      const client = lamella[name as keyof Lamella] as Record<string, unknown>;
      for (const method of service.methods) {
        expectEqual(typeof client[method.localName], "function");
      }
    }
  },

  "faults of fields are listed": async () => {
    const refusal = await refused(lamella.job.createJob({ job: {}, jobId: "Not An Id" }));
    expectEqual([refusal.code, refusal.codeName], [Code.InvalidArgument, "INVALID_ARGUMENT"]);
    expectEqual(refusal.reason, "INPUT_INVALID");
    expectEqual(refusal.violations.map((violation) => violation.field).sort(), ["job.display_name", "job_id"]);
    expectEqual(refusal.violations.every((violation) => violation.description !== ""), true);
    expectEqual(refusal.conditions, []);
    // The message itself, without the code before it.
    expectEqual(refusal.message.startsWith("["), false);
  },

  "unmet conditions are listed": async () => {
    const { name } = await newJob();
    const refusal = await refused(lamella.job.advanceStage({ name }));
    expectEqual([refusal.codeName, refusal.reason], ["FAILED_PRECONDITION", "CONDITIONS_UNMET"]);
    expectEqual(refusal.conditions.map((condition) => condition.type), ["VEHICLE_MISSING"]);
    expectEqual(refusal.violations, []);
  },

  "other refusals carry their reason": async () => {
    const missing = await refused(lamella.job.getJob({ name: "jobs/nobody" }));
    expectEqual([missing.codeName, missing.reason], ["NOT_FOUND", "RESOURCE_NOT_FOUND"]);
    const { name, etag } = await newJob();
    await lamella.job.updateJob({ job: { name, wishes: "no dust" } });
    const stale = await refused(lamella.job.updateJob({ job: { name, etag, wishes: "none" } }));
    expectEqual([stale.codeName, stale.reason], ["ABORTED", "ETAG_STALE"]);
    const own = refusalOf(new TypeError("not of a call"));
    expectEqual([own.codeName, own.reason, own.message], ["UNKNOWN", "", "not of a call"]);
  },

  "a watch resumes, ends and fails": async () => {
    const { name } = await newJob();
    const watched = async (resumeToken: string) => {
      const changes = [];
      for await (const message of lamella.job.watchJobs({ resumeToken, job: name })) {
        resumeToken = message.resumeToken;
        if (message.message.case === "caughtUp") {
          return { changes, resumeToken };
        }
        if (message.message.case === "event") {
          changes.push(message.message.value.change.case);
        }
      }
      throw new Error("the watch ended before it had caught up");
    };
    const first = await watched("0");
    expectEqual(first.changes, ["created"]);
    await lamella.job.updateJob({ job: { name, wishes: "no dust" } });
    expectEqual((await watched(first.resumeToken)).changes, ["updated"]);

    const ahead = lamella.job.watchJobs({ resumeToken: "999999" })[Symbol.asyncIterator]();
    expectEqual((await refused(ahead.next())).reason, "RESUME_TOKEN_AHEAD");
    const leave = new AbortController();
    const left = lamella.job.watchJobs({ resumeToken: "0" }, { signal: leave.signal })[Symbol.asyncIterator]();
    await left.next();
    leave.abort();
    const rest = async () => {
      while (!(await left.next()).done);
    };
    expectEqual((await refused(rest())).codeName, "CANCELED");
  },

  "a dilution keeps the product": async () => {
    // Volume of product before and after: stock * 91 % = 1000 ml * 35 % (balance of
    // ideal volumes, a definition and no trade fact).
    const percent = (value: number) => ({ form: { case: "percent" as const, value } });
    const request = create(DiluteRequestSchema, { stock: percent(91), target: percent(35), totalMl: 1000 });
    const answer = await lamella.calculator.dilute(request);
    expectEqual(answer.concentrateMl.toFixed(2), ((1000 * 35) / 91).toFixed(2));
  },

  "calls have a deadline and streams have none": async () => {
    const seen: (string | null)[] = [];
    const fetch: typeof globalThis.fetch = (input, init) => {
      seen.push(new Headers(init?.headers).get("grpc-timeout"));
      return globalThis.fetch(input, init);
    };
    const { name } = await newJob();
    const call = async ({ job }: Lamella, timeoutMs?: number) => {
      const options = timeoutMs === undefined ? {} : { timeoutMs };
      await job.getJob({ name }, options);
      for await (const { message } of job.watchJobs({ resumeToken: "0", job: name }, options)) {
        if (message.case === "caughtUp") break;
      }
    };
    await call(connect(SERVER, { fetch }));
    await call(connect(SERVER, { fetch }), 50_000);
    await call(connect(SERVER, { fetch, defaultTimeoutMs: 0 }));
    // The form of the header is gRPC's: digits and a unit, m for milliseconds.
    expectEqual(seen, ["10000m", null, "50000m", "50000m", null, null]);
  },

  "a deadline that passes is an error": async () => {
    const never: typeof globalThis.fetch = (_, init) =>
      new Promise((_resolve, reject) => {
        init?.signal?.addEventListener("abort", () => reject(init.signal?.reason));
      });
    const { job } = connect(SERVER, { fetch: never, defaultTimeoutMs: 20 });
    expectEqual((await refused(job.getJob({ name: "jobs/a" }))).codeName, "DEADLINE_EXCEEDED");
  },

  "an unreachable daemon is an error without reason": async () => {
    // Port 9 is that of the discard service (RFC 863), which browsers and fetch refuse.
    const refusal = await refused(connect("127.0.0.1:9").job.getJob({ name: "jobs/a" }));
    expectEqual(refusal.reason, "");
  },

  "addresses are taken and refused": async () => {
    const { name } = await newJob();
    for (const server of [SERVER, `http://${SERVER}`, `http://${SERVER}/`]) {
      expectEqual((await connect(server).job.getJob({ name })).stage, Stage.BOOKED);
    }
    for (const wrong of ["", "unix:/run/lamella.sock", "http://", "a b", "a:b"]) {
      let refusal = "";
      try {
        connect(wrong);
      } catch (error) {
        expectEqual(error instanceof TypeError, true);
        refusal = String(error);
      }
      expectEqual(refusal.includes(`\`${wrong}\``), true);
    }
  },

  "times come as dates": async () => {
    const { createTime } = await newJob();
    expectEqual(createTime !== undefined && timestampDate(createTime) > new Date("2024-01-01"), true);
  },
};

/** Never run: what a type checker refuses. */
export function mistaken({ job }: Lamella): unknown {
  return [
    // @ts-expect-error: no such method
    () => job.getJobs({}),
    // @ts-expect-error: no such field
    () => job.createJob({ job: { displayNam: "Blue estate" } }),
    // @ts-expect-error: a stage is no text
    () => job.advanceStage({ toStage: "received" }),
    // @ts-expect-error: no such service
    (all: Lamella) => all.nothing,
  ];
}

for (const [name, check] of Object.entries(checks)) {
  await check();
  console.log(`    ok ${name}`);
}
