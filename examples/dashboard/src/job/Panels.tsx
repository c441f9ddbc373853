/** The car's panels: what was read, what came off, what may still come off; and the film on them. */
import type { PaintLedgerPanel } from "@lamella/client";
import { useCallback } from "preact/hooks";

import { t } from "../messages/index.js";
import { full } from "../times.js";
import { Chart, type Palette, Table } from "../ui/Chart.js";
import { decimals } from "../units/show.js";
import { short } from "../units/system.js";
import { entries, panelMean, type Round, rounds } from "./figures.js";
import type { JobView } from "./load.js";

/** Panels with their paint, and the readings before and after. */
export function Panels({ view }: { view: JobView }) {
  const all = rounds(view.records);
  const panels = view.vehicle?.panels ?? [];
  const ledger = new Map(view.ledger?.panels.map((panel) => [panel.panel, panel]));
  const names = new Map(panels.map((panel) => [panel.panelId, panel.displayName || panel.panelId]));
  return (
    <section aria-labelledby="panels">
      <h2 id="panels">{t.job.panels}</h2>
      {panels.length > 0 && (
        <Table
          caption={t.job.panels}
          head={[t.job.panel, t.job.madeOf, t.job.finish, t.job.before, t.job.after, t.job.removed, t.job.clear, t.job.budget]}
          rows={panels.map((panel) => [
            names.get(panel.panelId),
            t.substrate[panel.substrate],
            t.finish[panel.finish],
            um(panelMean(all, panel.panelId, "before")),
            um(panelMean(all, panel.panelId, "after")),
            um(ledger.get(panel.panelId)?.removedUm),
            left(ledger.get(panel.panelId)),
            um(ledger.get(panel.panelId)?.budgetUm),
          ])}
        />
      )}
      {all.length === 0 ? <p>{t.job.noReadings}</p> : <Readings all={all} names={names} />}
      <Budget view={view} names={names} />
    </section>
  );
}

function um(value: number | undefined): string {
  return value === undefined ? t.app.none : short("um", value);
}

function left(panel: PaintLedgerPanel | undefined): string {
  return panel?.left === undefined ? t.app.none : t.job.atLeast(short("um", panel.left.atLeastUm));
}

function Readings({ all, names }: { all: readonly Round[]; names: ReadonlyMap<string, string> }) {
  const draw = useCallback(
    (colors: Palette) => {
      const read = [...new Set(all.map((round) => round.value.panel))];
      const bars = (when: Round["when"]) => read.map((panel) => panelMean(all, panel, when) ?? null);
      return {
        type: "bar" as const,
        data: {
          labels: read.map((panel) => names.get(panel) ?? panel),
          datasets: [
            { label: t.job.before, data: bars("before"), backgroundColor: colors.first, maxBarThickness: 40 },
            { label: t.job.after, data: bars("after"), backgroundColor: colors.second, maxBarThickness: 40 },
          ],
        },
        options: { scales: { y: { title: { display: true, text: t.job.thickness }, beginAtZero: true } } },
      };
    },
    [all.length, names.size],
  );
  return (
    <>
      <h3>{t.job.readings}</h3>
      <Chart what={t.job.readingsChart} draw={draw}>
        <Table
          caption={t.job.readings}
          head={[t.job.panel, t.job.spot, t.job.round, t.job.count, t.job.mean, t.job.range, t.job.when, t.job.gauge]}
          rows={all.map(({ value, when, meanUm, at }) => [
            names.get(value.panel) ?? value.panel,
            value.spot || t.app.none,
            when === "before" ? t.job.before : t.job.after,
            value.readingsUm.length,
            short("um", meanUm),
            `${decimals(Math.min(...value.readingsUm), 1)} – ${short("um", Math.max(...value.readingsUm))}`,
            full(at),
            value.gauge || t.app.none,
          ])}
        />
      </Chart>
    </>
  );
}

/** What came off each panel, beside what may still come off; only where the daemon can tell. */
function Budget({ view, names }: { view: JobView; names: ReadonlyMap<string, string> }) {
  const told = view.ledger?.panels.filter((panel) => panel.budgetUm !== undefined) ?? [];
  const draw = useCallback(
    (colors: Palette) => ({
      type: "bar" as const,
      data: {
        labels: told.map((panel) => names.get(panel.panel) ?? panel.panel),
        datasets: [
          { label: t.job.removed, data: told.map((panel) => panel.removedUm ?? 0), backgroundColor: colors.bad, maxBarThickness: 36 },
          { label: t.job.budget, data: told.map((panel) => panel.budgetUm ?? 0), backgroundColor: colors.good, maxBarThickness: 36 },
        ],
      },
      options: {
        indexAxis: "y" as const,
        scales: {
          x: { stacked: true, beginAtZero: true, title: { display: true, text: t.job.budgetAxis } },
          y: { stacked: true },
        },
      },
    }),
    [view.ledger, names.size],
  );
  if (told.length === 0) return null;
  return (
    <>
      <h3>{t.job.budgetTitle}</h3>
      <Chart what={t.job.budgetChart} draw={draw}>
        <Table
          caption={t.job.budgetTitle}
          head={[t.job.panel, t.job.removed, t.job.budget, t.job.clear]}
          rows={told.map((panel) => [
            names.get(panel.panel) ?? panel.panel,
            short("um", panel.removedUm ?? 0),
            um(panel.budgetUm),
            left(panel),
          ])}
        />
      </Chart>
    </>
  );
}

/** Film laid. */
export function Film({ view }: { view: JobView }) {
  const pieces = entries(view.records, "filmPiece");
  const names = new Map(view.vehicle?.panels.map((panel) => [panel.panelId, panel.displayName || panel.panelId]));
  const cutM2 = pieces.reduce((sum, { value }) => sum + ((value.widthMm ?? 0) * (value.lengthMm ?? 0)) / 1e6, 0);
  return (
    <section aria-labelledby="film">
      <h2 id="film">{t.job.film}</h2>
      {pieces.length === 0 ? (
        <p>{t.job.noFilm}</p>
      ) : (
        <>
          <Table
            caption={t.job.film}
            head={[t.job.panel, t.job.piece, t.job.size, t.job.roll, t.job.lot, t.job.settled]}
            rows={pieces.map(({ value }) => [
              names.get(value.panel) ?? value.panel,
              value.film,
              `${short("mm", value.widthMm ?? 0)} × ${short("mm", value.lengthMm ?? 0)}`,
              value.roll || t.app.none,
              value.lot || t.app.none,
              value.settledTime === undefined ? t.app.none : full(Number(value.settledTime.seconds) * 1000),
            ])}
          />
          <p class="sum">{t.job.filmSum(short("m2", cutM2))}</p>
        </>
      )}
    </section>
  );
}
