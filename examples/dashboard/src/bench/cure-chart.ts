/** The panel's temperature over a log and its forecast, with what may happen when. */
import type { CureMilestone } from "@lamella/client";
import type { ChartConfiguration } from "chart.js";

import { t } from "../messages/index.js";
import { millis, moment } from "../times.js";
import type { Palette } from "../ui/Chart.js";
import type { Logged } from "./log.js";

const MOST_TICKS = 6;

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
  const temperatures = samples.map(({ panelC }) => panelC);
  const [coldest, hottest] = [Math.min(...temperatures), Math.max(...temperatures)];
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
        yAdjust: 8 + 27 * (index % 4),
        backgroundColor: colors.sheet,
        color: colors.ink,
      },
    });
    const forecast = forecastFrom === undefined ? [] : [{ at: forecastFrom, name: t.calculators.cure.forecastFrom, color: colors.muted }];
    const all = [...marks.map((mark) => ({ ...mark, color: colors.second })), ...forecast]
      .sort((a, b) => a.at - b.at)
      .map(({ at, name, color }, index) => upright(at, name, color, index));
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
          x: {
            type: "linear" as const,
            min: from,
            max: to,
            afterBuildTicks: (axis: { ticks: { value: number }[] }) => {
              axis.ticks = wholeHours(from, to);
            },
            ticks: { callback: (at: number | string) => moment(Number(at), from), maxRotation: 0, autoSkip: false },
          },
          // Room above the line for the names of the milestones.
          y: { title: { display: true, text: t.job.temperatureAxis }, suggestedMax: hottest + Math.max(2, hottest - coldest) },
        },
        plugins: {
          legend: { display: false },
          annotation: { annotations: Object.fromEntries(all.map((mark, index) => [`mark${index}`, mark])) },
        },
      },
    };
  };
}

/** Few moments at whole hours of the local clock. */
function wholeHours(from: number, to: number): { value: number }[] {
  const step = [1, 2, 3, 6, 12, 24].find((hours) => (to - from) / 3_600_000 / hours <= MOST_TICKS) ?? Math.ceil((to - from) / 86_400_000 / MOST_TICKS) * 24;
  const at = new Date(from);
  at.setHours(0, 0, 0, 0);
  const ticks: { value: number }[] = [];
  for (; at.getTime() <= to; at.setHours(at.getHours() + step)) if (at.getTime() >= from) ticks.push({ value: at.getTime() });
  return ticks;
}
