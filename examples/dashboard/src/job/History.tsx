/** All else that was written down, and every event in its order. */
import type { Record as JobRecord } from "@lamella/client";
import { useState } from "preact/hooks";

import { eventWords } from "../board/words.js";
import { t } from "../messages/index.js";
import { full, millis, span } from "../times.js";
import { Table } from "../ui/Chart.js";
import { short } from "../units/system.js";
import type { JobView } from "./load.js";

/** How many events show before the rest is asked for. */
const FIRST = 8;

/** Mixes, labour, parts, air and notes. */
export function Others({ view }: { view: JobView }) {
  const rows = view.records.flatMap((record) => {
    const detail = detailOf(record);
    return detail === undefined
      ? []
      : [[t.record[record.entry.case ?? "other"], detail, record.recordTime === undefined ? "" : full(millis(record.recordTime))]];
  });
  if (rows.length === 0) return null;
  return (
    <section aria-labelledby="others">
      <h2 id="others">{t.job.other}</h2>
      <Table caption={t.job.other} head={[t.job.what, t.job.detail, t.job.when]} rows={rows} />
    </section>
  );
}

function detailOf({ entry }: JobRecord): string | undefined {
  switch (entry.case) {
    case "mix": {
      const { product, concentrateMl, diluentMl, strengthPercent } = entry.value;
      const strength = strengthPercent === undefined ? "" : ` = ${short("percent", strengthPercent)}`;
      return `${product}: ${short("ml", concentrateMl ?? 0)} + ${short("ml", diluentMl ?? 0)}${strength}`;
    }
    case "bayAir": {
      const { air, dewPointC } = entry.value;
      const values = [
        air?.airC === undefined ? "" : short("c", air.airC),
        air?.relativeHumidityPercent === undefined ? "" : short("percent", air.relativeHumidityPercent),
        dewPointC === undefined ? "" : `${t.calculators.dew.dewPoint} ${short("c", dewPointC)}`,
      ];
      return values.filter(Boolean).join(", ");
    }
    case "labour": {
      const { worker, activity, fromTime, toTime } = entry.value;
      const worked = fromTime && toTime ? `, ${span(millis(toTime) - millis(fromTime))}` : "";
      return `${worker}: ${activity}${worked}`;
    }
    case "partOff":
      return [entry.value.part, entry.value.fasteners, t.job.keptAt(entry.value.keptAt)].filter(Boolean).join(", ");
    case "partRefit":
      return [entry.value.part, entry.value.note].filter(Boolean).join(", ");
    case "note":
      return [entry.value.panel, entry.value.text].filter(Boolean).join(": ");
    default:
      return undefined;
  }
}

/** Events, the newest first. */
export function History({ view: { history } }: { view: JobView }) {
  const [all, setAll] = useState(false);
  const newest = [...history].reverse();
  return (
    <section class="history" aria-labelledby="history">
      <h2 id="history">{t.job.history}</h2>
      <ol reversed>
        {newest.slice(0, all ? undefined : FIRST).map((event) => (
          <li key={String(event.sequence)} data-sequence={String(event.sequence)}>
            <span class="history-what">{eventWords(event)}</span>
            {event.change.case === "stageChanged" && event.change.value.note !== "" && <span> {event.change.value.note}</span>}
            {event.eventTime !== undefined && <time>{full(millis(event.eventTime))}</time>}
          </li>
        ))}
      </ol>
      {!all && history.length > FIRST && (
        <button type="button" onClick={() => setAll(true)}>
          {t.job.olderHistory(history.length)}
        </button>
      )}
    </section>
  );
}
