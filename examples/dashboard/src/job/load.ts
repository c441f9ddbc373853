/** Everything that a job page shows, from the public API only. */
import {
  Code,
  ConnectError,
  type Job,
  type JobEvent,
  type ListPaintLedgerResponse,
  type Quote,
  type Record as JobRecord,
  Substrate,
  type Vehicle,
} from "@lamella/client";

import { lamella } from "../api.js";
import { gateOf, recordsOf, type Waiting } from "../live/waiting.js";
import { isOpen } from "../live/reducer.js";

/** A job and all around it. */
export interface JobView {
  readonly job: Job;
  readonly records: readonly JobRecord[];
  readonly history: readonly JobEvent[];
  /** Unset where none is written down. */
  readonly vehicle?: Vehicle;
  readonly ledger?: ListPaintLedgerResponse;
  /** Unset where the daemon makes no quotes. */
  readonly quotes?: readonly Quote[];
  /** Unset for a job that is closed. */
  readonly gate?: Pick<Waiting, "toStage" | "conditions">;
  /** The ceiling of panel temperature for each substrate among the passes, degrees Celsius. */
  readonly ceilings: ReadonlyMap<Substrate, number>;
}

/** Asks for all of it at once. */
export async function loadJob(name: string): Promise<JobView> {
  const job = await lamella.job.getJob({ name });
  const [records, history, vehicle, ledger, quotes, gate] = await Promise.all([
    recordsOf(name),
    historyOf(name),
    job.vehicle === "" ? undefined : lamella.vehicle.getVehicle({ name: job.vehicle }),
    job.vehicle === "" ? undefined : lamella.vehicle.listPaintLedger({ name: job.vehicle, pageSize: 200 }),
    quotesOf(name),
    isOpen(job) ? gateOf(job).catch(() => undefined) : undefined,
  ]);
  const ceilings = await ceilingsOf(records, vehicle);
  return {
    job,
    records,
    history,
    ceilings,
    ...(vehicle && { vehicle }),
    ...(ledger && { ledger }),
    ...(quotes && { quotes }),
    ...(gate && { gate }),
  };
}

async function historyOf(name: string): Promise<JobEvent[]> {
  const events: JobEvent[] = [];
  let pageToken = "";
  do {
    const page = await lamella.job.listJobHistory({ name, pageSize: 1000, pageToken });
    events.push(...page.events);
    pageToken = page.nextPageToken;
  } while (pageToken !== "");
  return events;
}

async function quotesOf(parent: string): Promise<Quote[] | undefined> {
  try {
    return (await lamella.quote.listQuotes({ parent, pageSize: 1000 })).quotes;
  } catch (error) {
    const { code } = ConnectError.from(error);
    // A daemon from before quotes, or one that leaves them out.
    if (code === Code.Unimplemented || code === Code.NotFound) return undefined;
    throw error;
  }
}

/** The ceiling is the daemon's to say: it echoes the one it would hold for a substrate. */
async function ceilingsOf(records: readonly JobRecord[], vehicle?: Vehicle): Promise<Map<Substrate, number>> {
  const made = new Map(vehicle?.panels.map(({ panelId, substrate }) => [panelId, substrate]));
  const wanted = new Set<Substrate>();
  for (const { entry } of records) {
    if (entry.case === "pass") wanted.add(made.get(entry.value.panel) ?? Substrate.UNSPECIFIED);
  }
  const found = await Promise.all(
    [...wanted].map(async (substrate) => {
      const { ceilingC } = await lamella.calculator.advisePass({ substrate });
      return [substrate, ceilingC] as const;
    }),
  );
  return new Map(found);
}
