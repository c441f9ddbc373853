/** Where the job came from: what another system agreed with the customer. */
import type { Booking } from "@lamella/client";

import { t } from "../messages/index.js";
import { full, millis } from "../times.js";
import type { JobView } from "./load.js";

/** Every booking behind the job; a job that was written down here has none. */
export function Bookings({ view: { bookings } }: { view: JobView }) {
  if (bookings.length === 0) return null;
  return (
    <section class="booking" aria-labelledby="booking">
      <h2 id="booking">{t.job.booking}</h2>
      {bookings.map((booking) => (
        <BookingView key={booking.name} booking={booking} />
      ))}
    </section>
  );
}

function BookingView({ booking }: { booking: Booking }) {
  const { source, externalId, revision, arrivalTime, promiseTime, wishes, cancelled, keptFields } = booking;
  const rows = [
    [t.job.bookedThrough, t.job.bookedAs(source, externalId)],
    [t.job.toArrive, arrivalTime && full(millis(arrivalTime))],
    [t.job.promisedThen, promiseTime && full(millis(promiseTime))],
    [t.job.wishes, wishes],
    [t.job.version, revision?.time && t.job.versionOf(revision.sequence, full(millis(revision.time)))],
    [t.job.kept, keptFields.map((field) => t.job.fields[field] ?? field.replaceAll("_", " ")).join(", ")],
  ] as const;
  return (
    <>
      {cancelled && <p class="cancelled">{t.job.bookingCancelled}</p>}
      <dl class="facts">
        {rows.map(([name, value]) =>
          value === undefined || value === "" ? null : (
            <div key={name}>
              <dt>{name}</dt>
              <dd>{value}</dd>
            </div>
          ),
        )}
      </dl>
    </>
  );
}
