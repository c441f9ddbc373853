/** Clear coat per panel: what must stay, what may come off, and what cannot be counted on. */
import type { PanelAssessment } from "@lamella/client";
import type { ChartConfiguration } from "chart.js";

import { t } from "../messages/index.js";
import type { Palette } from "../ui/Chart.js";

const p = t.calculators.paint;

/** Bars that add up to the expected clear coat of the governing spot. */
export function clearChart(panels: readonly PanelAssessment[], floorUm: number): (colors: Palette) => ChartConfiguration {
  const known = panels.flatMap(({ panel, clear, budgetUm = 0 }) =>
    clear === undefined ? [] : [{ panel, meanUm: Math.max(0, clear.meanUm), budgetUm: Math.max(0, budgetUm) }],
  );
  const part = (label: string, color: string, of: (panel: (typeof known)[number]) => number) => ({
    label,
    data: known.map(of),
    backgroundColor: color,
    borderWidth: 0,
    maxBarThickness: 44,
  });
  const stays = (meanUm: number) => Math.min(floorUm, meanUm);
  return (colors) => ({
    type: "bar" as const,
    data: {
      labels: known.map(({ panel }) => panel),
      datasets: [
        part(p.mustStay, colors.third, ({ meanUm }) => stays(meanUm)),
        part(p.mayGo, colors.first, ({ meanUm, budgetUm }) => Math.min(budgetUm, meanUm - stays(meanUm))),
        part(p.notSure, colors.second, ({ meanUm, budgetUm }) => Math.max(0, meanUm - stays(meanUm) - budgetUm)),
      ],
    },
    options: {
      indexAxis: "y" as const,
      scales: {
        x: { stacked: true, title: { display: true, text: p.chartAxis } },
        y: { stacked: true },
      },
    },
  });
}
