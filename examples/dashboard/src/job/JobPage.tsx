/** One job: where it stands, what it waits for, and everything on record. */
import { type Caution, Code, ConnectError, Stage } from "@lamella/client";
import { useEffect, useState } from "preact/hooks";

import { conditionText, promiseWords } from "../board/words.js";
import { live, minute } from "../live/watch.js";
import { t } from "../messages/index.js";
import { full, millis } from "../times.js";
import { FoldedCautions } from "../ui/Cautions.js";
import { Shell } from "../ui/Shell.js";
import { Bookings } from "./Bookings.js";
import { Coats } from "./Coats.js";
import { History, Others } from "./History.js";
import { type JobView, loadJob } from "./load.js";
import { Film, Panels } from "./Panels.js";
import { Passes } from "./Passes.js";
import { Photos } from "./Photos.js";
import { money, Quotes } from "./Quotes.js";

/** The page of `jobs/{job}`. */
export function JobPage({ name }: { name: string }) {
  const [view, setView] = useState<JobView | null>(null);
  const [fault, setFault] = useState<ConnectError | null>(null);
  const touched = live.value?.touched.get(name);
  useEffect(() => {
    let gone = false;
    loadJob(name).then(
      (loaded) => {
        if (gone) return;
        setView(loaded);
        setFault(null);
      },
      (error: unknown) => !gone && setFault(ConnectError.from(error)),
    );
    return () => {
      gone = true;
    };
    // Anew with each event of this job, and when the daemon is back.
  }, [name, touched, live.value === null]);

  if (view === null) {
    const missing = fault?.code === Code.NotFound || fault?.code === Code.InvalidArgument;
    return (
      <Shell title={t.app.board}>
        <div class="plain">
          <h1>{fault === null ? t.app.loading : missing ? t.job.gone : t.app.failed}</h1>
          {fault !== null && <p>{fault.rawMessage}</p>}
          <p>
            <a href="/">{t.app.toBoard}</a>
          </p>
        </div>
      </Shell>
    );
  }
  return (
    <Shell title={view.job.displayName}>
      <Head view={view} />
      <div class="job">
        <div class="job-main">
          <Panels view={view} />
          <Passes view={view} />
          <Film view={view} />
          <Coats view={view} />
          <Photos view={view} />
          <Quotes view={view} />
          <Others view={view} />
          <History view={view} />
        </div>
        <aside class="job-side">
          <Gate view={view} />
          <Bookings view={view} />
          <section aria-labelledby="cautions">
            <h2 id="cautions">{t.job.cautions}</h2>
            {cautionsOf(view).length === 0 ? <p>{t.job.noCautions}</p> : <FoldedCautions cautions={cautionsOf(view)} />}
          </section>
        </aside>
      </div>
    </Shell>
  );
}

function Head({ view: { job, vehicle } }: { view: JobView }) {
  const promise = promiseWords(job, minute.value);
  const closed = job.stage > Stage.READY;
  return (
    <div class={`job-head ${closed ? "none" : promise.near}`}>
      <h1>{job.displayName}</h1>
      <StageSteps stage={job.stage} />
      <dl class="facts">
        <div>
          <dt>{t.job.promise}</dt>
          <dd>
            {job.promiseTime === undefined ? t.board.noPromise : full(millis(job.promiseTime))}
            {!closed && job.promiseTime !== undefined && <strong class="left"> {promise.left}</strong>}
          </dd>
        </div>
        <div>
          <dt>{t.job.approved}</dt>
          <dd>
            {job.approval === undefined
              ? t.job.notApproved
              : [job.approval.amount && money(job.approval.amount), t.job.approvedBy(job.approval.approvedBy), job.approval.note]
                  .filter(Boolean)
                  .join(", ")}
          </dd>
        </div>
        <div>
          <dt>{t.job.vehicle}</dt>
          <dd>{vehicle === undefined ? t.job.noVehicle : [vehicle.displayName, vehicle.color].filter(Boolean).join(", ")}</dd>
        </div>
        {job.services.length > 0 && (
          <div>
            <dt>{t.job.services}</dt>
            <dd>
              {job.services
                .map(({ code, panels }) => `${code}: ${panels.length === 0 ? t.job.wholeCar : panels.join(", ")}`)
                .join("; ")}
            </dd>
          </div>
        )}
        {job.wishes !== "" && (
          <div>
            <dt>{t.job.wishes}</dt>
            <dd>{job.wishes}</dd>
          </div>
        )}
        {job.arrivalCondition !== "" && (
          <div>
            <dt>{t.job.arrival}</dt>
            <dd>{job.arrivalCondition}</dd>
          </div>
        )}
      </dl>
    </div>
  );
}

/** The way of a job, layer by layer. */
function StageSteps({ stage }: { stage: Stage }) {
  const steps = [1, 2, 3, 4, 5, 6, 7, 8];
  if (stage === Stage.CANCELLED) return <p class="cancelled">{t.stage[stage]}</p>;
  return (
    <ol class="steps" aria-label={t.job.stages}>
      {steps.map((step) => (
        <li key={step} class={step < stage ? "done" : step === stage ? "here" : ""} aria-current={step === stage ? "step" : undefined}>
          {t.stage[step]}
        </li>
      ))}
    </ol>
  );
}

function Gate({ view: { job, gate } }: { view: JobView }) {
  if (job.stage > Stage.READY) return null;
  return (
    <section class="gate" aria-labelledby="gate">
      <h2 id="gate">{t.job.next(t.stage[gate?.toStage ?? job.stage + 1] ?? "")}</h2>
      {gate === undefined ? (
        <p>{t.job.nextUnknown}</p>
      ) : gate.conditions.length === 0 ? (
        <p class="free">{t.job.nextFree}</p>
      ) : (
        <ul>
          {gate.conditions.map(({ type, subject, description }) => (
            <li key={type + subject} data-condition={type}>
              {conditionText(description, minute.value)}
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}

/** Of the records, of the moves, of the photos, and of the panels' paint. */
function cautionsOf({ records, history, ledger, photos }: JobView): Caution[] {
  return [
    ...records.flatMap((record) => record.cautions),
    ...history.flatMap(({ change }) => (change.case === "stageChanged" ? change.value.cautions : [])),
    ...(photos?.flatMap((photo) => photo.cautions) ?? []),
    ...(ledger?.panels.flatMap((panel) => panel.cautions) ?? []),
  ];
}
