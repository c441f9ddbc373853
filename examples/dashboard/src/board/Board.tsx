/** The wall: what is due next, open jobs by stage, and what just happened. */
import { type Job, Stage } from "@lamella/client";
import { useEffect, useState } from "preact/hooks";

import { ask, waiting } from "../live/waiting.js";
import { live, minute } from "../live/watch.js";
import { t } from "../messages/index.js";
import { moment, nearness, span } from "../times.js";
import { Shell } from "../ui/Shell.js";
import { type Due, due, LANES, lanes, share } from "./plan.js";
import { Recent } from "./Recent.js";
import { cureText, promiseWords, waitWords } from "./words.js";

/** How much the wall holds: wide enough for cards side by side, or one under the other. */
const WIDE = "(min-width: 70rem)";
/** Height of a row of cards on the wall with three lines in each, pixels; a wall is not scrolled. */
const ROW_PX = 180;
/** Due list and lanes, by room. */
const ROOM = {
  wide: () => ({ due: 5, columns: 3, rows: Math.floor(innerHeight / ROW_PX) }),
  narrow: () => ({ due: 4, columns: 1, rows: 21 }),
};

/** The board. */
export function Board() {
  const wide = useMedia(WIDE);
  const known = live.value;
  const room = wide ? ROOM.wide() : ROOM.narrow();
  const byLane = lanes(known?.jobs.values() ?? []);
  const counts = LANES.map((stage) => byLane.get(stage)?.length ?? 0);
  const shares = share(counts, room.columns, room.rows);
  const [expanded, setExpanded] = useState<Stage | null>(null);

  const shown = LANES.map((stage, index) => {
    const jobs = byLane.get(stage) ?? [];
    return { stage, jobs, visible: expanded === stage ? jobs : jobs.slice(0, shares[index]) };
  });
  useEffect(() => {
    if (known === null) return;
    if (performance.getEntriesByName("board-interactive").length === 0) performance.mark("board-interactive");
    // What is on show is asked first, then whatever may be curing.
    const inCure = [...(byLane.get(Stage.CURING) ?? []), ...(byLane.get(Stage.IN_WORK) ?? [])].slice(0, 60);
    ask([...shown.flatMap(({ visible }) => visible.slice(0, 60)), ...inCure], known.touched);
  }, [known, minute.value, expanded, wide]);

  return (
    <Shell title={t.app.board} wall>
      <h1 class="hidden">{t.app.board}</h1>
      {known === null ? (
        <p class="plain">{t.app.loading}</p>
      ) : (
        <div class="board" data-taken={known.taken} data-reached={String(known.reached)} data-open={known.jobs.size}>
          <div class="side">
            <DueList jobs={known.jobs} room={room.due} />
            <Recent live={known} />
          </div>
          <section class="lanes" aria-label={t.board.lanes}>
            {shown.map(({ stage, jobs, visible }) => (
              <Lane
                key={stage}
                stage={stage}
                jobs={jobs}
                visible={visible}
                expanded={expanded === stage}
                onToggle={() => setExpanded(expanded === stage ? null : stage)}
              />
            ))}
          </section>
        </div>
      )}
    </Shell>
  );
}

function Lane(props: {
  stage: Stage;
  jobs: readonly Job[];
  visible: readonly Job[];
  expanded: boolean;
  onToggle: () => void;
}) {
  const { stage, jobs, visible, expanded } = props;
  const hidden = jobs.length - visible.length;
  return (
    <section class={`lane stage-${stage} ${jobs.length === 0 ? "empty" : ""}`} aria-labelledby={`lane-${stage}`} data-stage={stage}>
      <h2 id={`lane-${stage}`}>
        <span class="lane-name">{t.stage[stage]}</span>
        <span class="lane-count" data-count={jobs.length}>
          {jobs.length === 0 ? t.board.empty : jobs.length}
        </span>
      </h2>
      <ul class="cards">
        {visible.map((job) => (
          <Card key={job.name} job={job} />
        ))}
        {(hidden > 0 || expanded) && (
          <li class="more">
            <button type="button" aria-expanded={expanded} onClick={props.onToggle}>
              {expanded ? t.board.fewer : t.board.more(hidden)}
              <span class="hidden"> {t.stage[stage]}</span>
            </button>
          </li>
        )}
      </ul>
    </section>
  );
}

function Card({ job }: { job: Job }) {
  const now = minute.value;
  const promise = promiseWords(job, now);
  const wait = waiting.value.get(job.name);
  const words = wait === undefined ? undefined : waitWords(wait, now);
  return (
    <li class={`card ${promise.near}`} data-job={job.name} data-stage={job.stage}>
      <a href={`/${job.name}`}>
        <span class="card-name">{job.displayName}</span>
        <span class="card-left">{promise.left}</span>
        <span class="card-foot">
          <span class={`card-wait ${words?.kind ?? "unknown"}`}>
            {words === undefined ? (
              <span aria-hidden="true">…</span>
            ) : (
              <>
                {words.kind !== "cure" && <span class="wait-for">{t.board.waitsFor} </span>}
                {words.text}
                {words.more > 0 && <span class="wait-more"> {t.board.andMore(words.more)}</span>}
              </>
            )}
          </span>
          <span class="card-by">{promise.by}</span>
        </span>
      </a>
    </li>
  );
}

function DueList({ jobs, room }: { jobs: ReadonlyMap<string, Job>; room: number }) {
  const now = minute.value;
  const { list, late } = due(jobs.values(), waiting.value, now, room);
  return (
    <section class="due" aria-labelledby="due">
      <h2 id="due">{t.board.due}</h2>
      {list.length === 0 && <p>{t.board.nothingDue}</p>}
      <ol>
        {list.map((item) => (
          <DueItem key={`${item.job.name} ${item.cure?.kind ?? "promise"} ${item.at}`} item={item} now={now} />
        ))}
      </ol>
      {late > 0 && <p class="late-more">{t.board.lateMore(late)}</p>}
    </section>
  );
}

function DueItem({ item, now }: { item: Due; now: number }) {
  const near = nearness(item.at, now);
  const what = item.cure === undefined ? `${t.board.promised} ${moment(item.at, now)}` : cureText(item.cure, now);
  return (
    <li class={`due-item ${near} ${item.cure === undefined ? "promise" : "cure"}`}>
      <a href={`/${item.job.name}`}>
        <span class="due-span">{near === "late" ? t.board.late(span(item.at - now)) : span(item.at - now)}</span>
        <span class="due-name">{item.job.displayName}</span>
        <span class="due-what">{what}</span>
      </a>
    </li>
  );
}

function useMedia(query: string): boolean {
  const [matches, setMatches] = useState(() => matchMedia(query).matches);
  useEffect(() => {
    const media = matchMedia(query);
    const changed = () => setMatches(media.matches);
    media.addEventListener("change", changed);
    return () => media.removeEventListener("change", changed);
  }, [query]);
  return matches;
}

