/** Checks `@lamella/client/node`: what differs from behaviour.ts. */

import { connect, refusalOf, Stage } from "@lamella/client/node";

function expectEqual(found: unknown, expected: unknown): void {
  const [a, b] = [JSON.stringify(found), JSON.stringify(expected)];
  if (a !== b) {
    throw new Error(`expected ${b}, got ${a}`);
  }
}

const { job, plugin } = connect();
const { name, stage } = await job.createJob({ job: { displayName: "Blue estate" } });
expectEqual(stage, Stage.BOOKED);
const unmet = await job.advanceStage({ name }).then(() => [], (error: unknown) => refusalOf(error).conditions);
expectEqual(unmet.map((condition) => condition.type), ["VEHICLE_MISSING"]);
for await (const { message } of job.watchJobs({ resumeToken: "0", job: name }, { timeoutMs: 100_000 })) {
  if (message.case === "caughtUp") break;
}

// A stream without the header that must come first: it is the daemon that refuses it.
async function* nothing() {}
const refusal = await plugin.tryPlugin(nothing()).then(String, refusalOf);
expectEqual(
  typeof refusal !== "string" && [refusal.codeName, refusal.violations.map((violation) => violation.field)],
  ["INVALID_ARGUMENT", ["header"]],
);
console.log("    ok over HTTP/2, and streams to the daemon");
