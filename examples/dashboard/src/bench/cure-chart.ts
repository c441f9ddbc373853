/** The panel's temperature over a log and its forecast, with what may happen when. */
import type { CureMilestone } from "@lamella/client";
import type { ChartConfiguration } from "chart.js";

import { t } from "../messages/index.js";
import { millis, moment } from "../times.js";
import type { Palette } from "../ui/Chart.js";
import type { Logged } from "./log.js";

/** Milestones within the samples are drawn; later ones would squeeze the days to nothing. */
export function cureChart(
  samples: readonly Logged[],
  forecastFrom: number | undefined,
  milestones: readonly CureMilestone[],
): (colors: Palette) => ChartConfiguration {
  const [from, to] = [samples[0]?.at ?? 0, samples.at(-1)?.at ?? 0];
  const marks = milestones.flatMap(({ kind, dueTime }) => {
    const at = dueTime === undefined ? undefined : millis(dueTime);
    return at === undefined || at < from || at > to ? [] : [{ at, name: t.cure[kind] ?? "" }];
  });
  return (colors) => {
    const upright = (at: number, name: string, color: string, index: number) => ({
      type: "line" as const,
      xMin: at,
      xMax: at,
      borderColor: color,
      borderWidth: 2,
      borderDash: [6, 4],
      label: {
        display: true,
        content: name,
        position: "end" as const,
        // Names of near milestones stand below each other.
        yAdjust: 8 + 20 * (index % 4),
        backgroundColor: colors.sheet,
        color: colors.ink,
      },
    });
    const all = [
      ...marks.map(({ at, name }, index) => upright(at, name, colors.second, index)),
      ...(forecastFrom === undefined ? [] : [upright(forecastFrom, t.calculators.cure.forecastFrom, colors.muted, marks.length)]),
    ];
    return {
      type: "line" as const,
      data: {
        datasets: [
          {
            label: t.job.temperature,
            data: samples.map(({ at, panelC }) => ({ x: at, y: panelC })),
            borderColor: colors.first,
            backgroundColor: colors.first,
            borderWidth: 2.5,
            pointRadius: 0,
          },
        ],
      },
      options: {
        scales: {
          x: { type: "linear" as const, min: from, max: to, ticks: { callback: (at: number | string) => moment(Number(at), from), maxTicksLimit: 7 } },
          y: { title: { display: true, text: t.job.temperatureAxis }, grace: "15%" },
        },
        plugins: {
          legend: { display: false },
          annotation: { annotations: Object.fromEntries(all.map((mark, index) => [`mark${index}`, mark])) },
        },
      },
    };
  };
}
