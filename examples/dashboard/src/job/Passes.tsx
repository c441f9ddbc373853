/** Polishing passes: how warm the panel got against its ceiling, and what came off. */
import { Substrate } from "@lamella/client";
import { useCallback } from "preact/hooks";

import { t } from "../messages/index.js";
import { full } from "../times.js";
import { Chart, type Palette, Table } from "../ui/Chart.js";
import { short } from "../units/system.js";
import { entries, setupWords } from "./figures.js";
import type { JobView } from "./load.js";

/** Every pass in order. */
export function Passes({ view }: { view: JobView }) {
  const passes = entries(view.records, "pass");
  const made = new Map(view.vehicle?.panels.map(({ panelId, substrate }) => [panelId, substrate]));
  const names = new Map(view.vehicle?.panels.map((panel) => [panel.panelId, panel.displayName || panel.panelId]));
  const ceilingOf = (panel: string) => view.ceilings.get(made.get(panel) ?? Substrate.UNSPECIFIED);
  const draw = useCallback(
    (colors: Palette) => {
      const panels = [...new Set(passes.map(({ value }) => value.panel))];
      const lines = [colors.first, colors.second, colors.third];
      return {
        type: "line" as const,
        data: {
          labels: passes.map((_, index) => `${t.job.passNumber} ${index + 1}`),
          datasets: panels.map((panel, index) => ({
            label: names.get(panel) ?? panel,
            data: passes.map(({ value }) => (value.panel === panel ? (value.panelC ?? null) : null)),
            borderColor: lines[index % lines.length],
            backgroundColor: lines[index % lines.length],
            pointRadius: 6,
            pointStyle: (["circle", "rect", "triangle"] as const)[index % 3],
            borderWidth: 2,
            spanGaps: true,
          })),
        },
        options: {
          scales: { y: { title: { display: true, text: t.job.temperatureAxis }, grace: "15%" } },
          plugins: {
            annotation: {
              annotations: Object.fromEntries(
                [...new Set(panels.map(ceilingOf))].flatMap((ceilingC, index) =>
                  ceilingC === undefined
                    ? []
                    : [
                        [
                          `ceiling${index}`,
                          {
                            type: "line" as const,
                            yMin: ceilingC,
                            yMax: ceilingC,
                            borderColor: colors.bad,
                            borderWidth: 2,
                            borderDash: [8, 5],
                            label: {
                              display: true,
                              content: t.job.ceiling(short("c", ceilingC)),
                              position: "end" as const,
                              yAdjust: -12,
                              backgroundColor: "transparent",
                              color: colors.bad,
                            },
                          },
                        ],
                      ],
                ),
              ),
            },
          },
        },
      };
    },
    [passes.length, view.ceilings],
  );
  return (
    <section aria-labelledby="passes">
      <h2 id="passes">{t.job.passes}</h2>
      {passes.length === 0 ? (
        <p>{t.job.noPasses}</p>
      ) : (
        <Chart what={t.job.passChart} draw={draw}>
          <Table
            caption={t.job.passes}
            head={[
              t.job.passNumber,
              t.job.panel,
              t.job.setup,
              t.job.speed,
              t.job.pressure,
              t.job.time,
              t.job.temperature,
              t.job.belowCeiling,
              t.job.removed,
              t.job.outcome,
              t.job.override,
              t.job.when,
            ]}
            rows={passes.map(({ at, value }, index) => {
              const ceilingC = ceilingOf(value.panel);
              return [
                index + 1,
                names.get(value.panel) ?? value.panel,
                setupWords(value),
                value.setup?.speed ?? t.app.none,
                short("pa", (value.setup?.pressureKpa ?? 0) * 1000),
                short("seconds", value.setup?.seconds ?? 0),
                value.panelC === undefined ? t.app.none : short("c", value.panelC),
                value.panelC === undefined || ceilingC === undefined ? t.app.none : short("k", ceilingC - value.panelC),
                value.removalUm === undefined ? t.app.none : short("um", value.removalUm),
                t.outcome[value.outcome],
                value.overrideReason || t.app.none,
                full(at),
              ];
            })}
          />
        </Chart>
      )}
    </section>
  );
}
