/** Coats and their cure on a line of time, with the time now. */
import { useCallback, useState } from "preact/hooks";

import { minute } from "../live/watch.js";
import { t } from "../messages/index.js";
import { full, millis, moment, span } from "../times.js";
import { Chart, type Palette, Table } from "../ui/Chart.js";
import { short } from "../units/system.js";
import { type CoatCure, coatCures, type Stretch } from "./figures.js";
import type { JobView } from "./load.js";

/** How much of the cure is drawn; minutes and weeks do not fit one scale. */
type Zoom = "hours" | "dry" | "all";

/** Coats, drawn and told. */
export function Coats({ view }: { view: JobView }) {
  const cures = coatCures(view.records);
  const [chosen, setChosen] = useState<Zoom | null>(null);
  const zoom = chosen ?? usual(cures, minute.value);
  return (
    <section aria-labelledby="coats">
      <h2 id="coats">{t.job.coats}</h2>
      {cures.length === 0 ? (
        <p>{t.job.noCoats}</p>
      ) : (
        <>
          <div class="choices" role="group" aria-label={t.job.zoom}>
            {(["hours", "dry", "all"] as const).map((each) => (
              <button key={each} type="button" aria-pressed={each === zoom} onClick={() => setChosen(each)}>
                {{ hours: t.job.zoomHours, dry: t.job.zoomDry, all: t.job.zoomAll }[each]}
              </button>
            ))}
          </div>
          <Timeline cures={cures} zoom={zoom} />
        </>
      )}
    </section>
  );
}

/** The first span that still has something ahead of now in it. */
function usual(cures: readonly CoatCure[], now: number): Zoom {
  const found = (["hours", "dry"] as const).find((zoom) => now < bounds(cures, zoom).to);
  return found ?? "all";
}

/** From the first coat to the end of what is asked for, with a little room. */
function bounds(cures: readonly CoatCure[], zoom: Zoom): { from: number; to: number } {
  const kinds: Record<Zoom, readonly Stretch["kind"][]> = {
    hours: ["wipe", "recoat"],
    dry: ["wipe", "recoat", "dry"],
    all: ["wipe", "recoat", "dry", "wash", "cure"],
  };
  const from = Math.min(...cures.map((cure) => cure.at));
  const ends = cures.flatMap(({ stretches }) => stretches.filter(({ kind }) => kinds[zoom].includes(kind)).map(({ to }) => to));
  const to = Math.max(from + 3_600_000, ...ends);
  return { from, to: to + (to - from) * 0.05 };
}

/** At most seven moments that people count by: whole hours or days of local time. */
function wholeHours(from: number, to: number): number[] {
  const steps = [1, 2, 3, 6, 12, 24, 48, 96, 168, 336, 720].map((hours) => hours * 3_600_000);
  const step = steps.find((each) => (to - from) / each <= 7) ?? to - from;
  const midnight = new Date(from).setHours(0, 0, 0, 0);
  const ticks: number[] = [];
  for (let at = midnight; at <= to; at += step) if (at >= from) ticks.push(at);
  return ticks;
}

function Timeline({ cures, zoom }: { cures: readonly CoatCure[]; zoom: Zoom }) {
  const now = minute.value;
  const label = ({ coat }: CoatCure) => [
    `${coat.coating?.product ?? ""}${coat.layer > 1 ? `, ${t.job.layer.toLowerCase()} ${coat.layer}` : ""}`,
    coat.panels.join(", "),
  ];
  const draw = useCallback(
    (colors: Palette) => {
      const { from, to } = bounds(cures, zoom);
      const looks: readonly (readonly [Stretch["kind"], string, string, number])[] = [
        ["wipe", t.job.wiping, colors.ink, 0.3],
        ["recoat", t.job.recoating, colors.second, 0.3],
        ["dry", t.job.drying, colors.first, 0.8],
        ["wash", t.job.noWash, colors.third, 0.8],
        ["cure", t.job.curing, colors.line, 0.8],
      ];
      return {
        type: "bar" as const,
        data: {
          labels: cures.map(label),
          datasets: looks
            .filter(([kind]) => cures.some(({ stretches }) => stretches.some((s) => s.kind === kind && s.from < to)))
            .map(([kind, name, color, thickness], order) => ({
              label: name,
              data: cures.map(({ stretches }) => {
                const found = stretches.find((stretch) => stretch.kind === kind);
                return found === undefined ? null : ([found.from, Math.min(found.to, to)] as [number, number]);
              }),
              backgroundColor: color,
              barPercentage: thickness,
              categoryPercentage: 1,
              grouped: false,
              maxBarThickness: 56 * thickness,
              order,
            })),
        },
        options: {
          indexAxis: "y" as const,
          scales: {
            x: {
              type: "linear" as const,
              min: from,
              max: to,
              afterBuildTicks: (axis: { ticks: { value: number }[] }) => {
                axis.ticks = wholeHours(from, to).map((value) => ({ value }));
              },
              ticks: { callback: (value: string | number) => moment(Number(value), from), maxRotation: 0 },
            },
            y: { grid: { display: false } },
          },
          plugins: {
            tooltip: {
              callbacks: {
                label: ({ dataset, raw }: { dataset: { label?: string }; raw: unknown }) => {
                  const [begin, end] = raw as [number, number];
                  return `${dataset.label ?? ""}: ${full(begin)} – ${full(end)}`;
                },
              },
            },
            annotation: {
              annotations:
                now < from || now > to
                  ? {}
                  : {
                      now: {
                        type: "line" as const,
                        xMin: now,
                        xMax: now,
                        borderColor: colors.bad,
                        borderWidth: 3,
                        label: {
                          display: true,
                          content: t.job.now,
                          position: "start" as const,
                          backgroundColor: colors.bad,
                          color: colors.sheet,
                        },
                      },
                    },
            },
          },
        },
      };
    },
    [cures.length, zoom, now],
  );
  return (
    <Chart what={t.job.cureChart} draw={draw}>
      <Table
        caption={t.job.coats}
        head={[t.job.coat, t.job.layer, t.job.panel, t.job.temperature, t.job.milestone, t.job.due, t.job.state]}
        rows={cures.flatMap(({ coat }) =>
          coat.milestones.map(({ kind, dueTime }) => {
            const at = dueTime === undefined ? undefined : millis(dueTime);
            return [
              coat.coating?.product ?? "",
              coat.layer || 1,
              coat.panels.join(", "),
              coat.panelC === undefined ? t.app.none : short("c", coat.panelC),
              t.cure[kind],
              at === undefined ? t.app.none : full(at),
              at === undefined ? t.app.none : at <= now ? t.job.past : t.job.ahead(span(at - now)),
            ];
          }),
        )}
      />
    </Chart>
  );
}
