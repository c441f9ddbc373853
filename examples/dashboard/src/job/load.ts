/** Everything that a job page shows, from the public API only. */
import {
  type Booking,
  Code,
  ConnectError,
  type Job,
  type JobEvent,
  type ListPaintLedgerResponse,
  type Photo,
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
  /** In the order they were stored; unset where the daemon keeps none. */
  readonly photos?: readonly Photo[];
  /** Those that the job was made of. */
  readonly bookings: readonly Booking[];
  /** Unset for a job that is closed. */
  readonly gate?: Pick<Waiting, "toStage" | "conditions">;
  /** The ceiling of panel temperature for each substrate among the passes, degrees Celsius. */
  readonly ceilings: ReadonlyMap<Substrate, number>;
}

/** Asks for all of it at once. */
export async function loadJob(name: string): Promise<JobView> {
  const job = await lamella.job.getJob({ name });
  const [records, history, vehicle, ledger, quotes, photos, bookings, gate] = await Promise.all([
    recordsOf(name),
    historyOf(name),
    job.vehicle === "" ? undefined : lamella.vehicle.getVehicle({ name: job.vehicle }),
    job.vehicle === "" ? undefined : lamella.vehicle.listPaintLedger({ name: job.vehicle, pageSize: 200 }),
    known(async () => (await lamella.quote.listQuotes({ parent: name, pageSize: 1000 })).quotes),
    known(() => photosOf(name)),
    known(async () => (await lamella.booking.listBookings({ filter: { job: name }, pageSize: 100 })).bookings),
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
    bookings: bookings ?? [],
    ...(quotes && { quotes }),
    ...(photos && { photos }),
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

async function photosOf(parent: string): Promise<Photo[]> {
  const photos: Photo[] = [];
  let pageToken = "";
  do {
    const page = await lamella.photo.listPhotos({ parent, pageSize: 1000, pageToken });
    photos.push(...page.photos);
    pageToken = page.nextPageToken;
  } while (pageToken !== "");
  return photos;
}

/** What a daemon from before that service, or one that leaves it out, does not know. */
async function known<T>(ask: () => Promise<T>): Promise<T | undefined> {
  try {
    return await ask();
  } catch (error) {
    const { code } = ConnectError.from(error);
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
