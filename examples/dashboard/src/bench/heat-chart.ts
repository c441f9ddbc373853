/** The panel's temperature over time against its ceiling. */
import type { HeatPoint } from "@lamella/client";

import { t } from "../messages/index.js";
import type { Palette } from "../ui/Chart.js";
import { short } from "../units/system.js";

const h = t.calculators.heat;

/** Expected temperature with its likely range, and the ceiling where there is one. */
export function heatChart(curve: readonly HeatPoint[], ceilingC: number | undefined) {
  return (colors: Palette) => {
    const line = (label: string, pick: "panelC" | "lowC" | "highC", color: string, dash: number[]) => ({
      label,
      data: curve.map((point) => ({ x: point.afterS, y: point.temperature?.[pick] ?? 0 })),
      borderColor: color,
      backgroundColor: color,
      borderDash: dash,
      borderWidth: dash.length === 0 ? 3 : 1.5,
      pointRadius: 0,
      pointStyle: "line" as const,
    });
    return {
      type: "line" as const,
      data: {
        datasets: [
          line(h.expected, "panelC", colors.first, []),
          line(h.low, "lowC", colors.muted, [4, 4]),
          line(h.high, "highC", colors.muted, [4, 4]),
        ],
      },
      options: {
        scales: {
          x: { type: "linear" as const, title: { display: true, text: h.seconds } },
          y: { title: { display: true, text: t.job.temperatureAxis }, grace: "10%" },
        },
        plugins: {
          legend: { labels: { usePointStyle: true } },
          annotation: {
            annotations:
              ceilingC === undefined
                ? {}
                : {
                    ceiling: {
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
                        yAdjust: 12,
                        backgroundColor: "transparent",
                        color: colors.bad,
                      },
                    },
                  },
          },
        },
      },
    };
  };
}
