/** What just happened, newest first; each event once. */
import type { Live } from "../live/reducer.js";
import { t } from "../messages/index.js";
import { clock, millis } from "../times.js";
import { eventJobName, eventWords } from "./words.js";

/** How many are shown. */
const SHOWN = 4;

/** The last events. */
export function Recent({ live }: { live: Live }) {
  return (
    <section class="recent" aria-labelledby="recent">
      <h2 id="recent">{t.board.recent}</h2>
      {live.recent.length === 0 && <p>{t.board.nothingRecent}</p>}
      <ol aria-live="off">
        {live.recent.slice(0, SHOWN).map((event) => (
          <li key={String(event.sequence)} data-sequence={String(event.sequence)}>
            {event.eventTime !== undefined && <time>{clock(millis(event.eventTime))}</time>}
            <span class="recent-name">{eventJobName(event, live.jobs)}</span>
            <span class="recent-what">{eventWords(event)}</span>
          </li>
        ))}
      </ol>
    </section>
  );
}
