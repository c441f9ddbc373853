/**
 * A chart with its table behind it. The library comes only when the first chart
 * is shown, so that the board does not wait for it.
 */
import type { ChartConfiguration } from "chart.js";
import type { ComponentChildren } from "preact";
import { useEffect, useRef } from "preact/hooks";

import { t } from "../messages/index.js";

/** The colours in use, read off the style sheet, so that charts follow light and dark. */
export interface Palette {
  readonly ink: string;
  readonly muted: string;
  readonly line: string;
  readonly sheet: string;
  readonly first: string;
  readonly second: string;
  readonly third: string;
  readonly good: string;
  readonly bad: string;
}

/** What is drawn, in the colours in use. */
export type Draw = (palette: Palette) => ChartConfiguration;

/** A figure: the chart, and the same figures as a table. */
export function Chart(props: { what: string; draw: Draw; height?: "low" | "tall"; children: ComponentChildren }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const { draw } = props;
  useEffect(() => {
    let drawn: { destroy(): void } | undefined;
    let gone = false;
    const scheme = matchMedia("(prefers-color-scheme: dark)");
    const redraw = async () => {
      const { makeChart } = await import("./chart-library.js");
      if (gone || canvas.current === null) return;
      drawn?.destroy();
      drawn = makeChart(canvas.current, draw(palette(canvas.current)));
    };
    void redraw();
    scheme.addEventListener("change", redraw);
    return () => {
      gone = true;
      scheme.removeEventListener("change", redraw);
      drawn?.destroy();
    };
  }, [draw]);
  return (
    <figure class="chart">
      <div class={`canvas ${props.height ?? "low"}`}>
        <canvas ref={canvas} role="img" aria-label={t.job.chart(props.what)} />
      </div>
      <details>
        <summary>{t.job.showTable}</summary>
        {props.children}
      </details>
    </figure>
  );
}

/** A table that scrolls sideways by itself on a narrow screen, by keyboard as well. */
export function Table(props: {
  caption: string;
  head: readonly string[];
  rows: readonly (readonly ComponentChildren[])[];
  /** Every column but the first holds figures, which stand under each other. */
  figures?: boolean;
}) {
  return (
    <div class={props.figures ? "table figures" : "table"} tabIndex={0} role="region" aria-label={props.caption}>
      <table>
        <caption class="hidden">{props.caption}</caption>
        <thead>
          <tr>
            {props.head.map((name) => (
              <th key={name} scope="col">
                {name}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {props.rows.map((row, index) => (
            <tr key={index}>
              {row.map((cell, column) => (column === 0 ? <th key={column} scope="row">{cell}</th> : <td key={column} class={isShort(cell) ? "short" : undefined}>{cell}</td>))}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

/** What is short stays on one line: a figure and its unit belong together. */
function isShort(cell: ComponentChildren): boolean {
  return typeof cell === "number" || (typeof cell === "string" && cell.length <= 22);
}

function palette(element: Element): Palette {
  const style = getComputedStyle(element);
  const color = (name: string) => style.getPropertyValue(name).trim();
  return {
    ink: color("--ink"),
    muted: color("--muted"),
    line: color("--line"),
    sheet: color("--sheet"),
    first: color("--chart-1"),
    second: color("--chart-2"),
    third: color("--chart-3"),
    good: color("--good"),
    bad: color("--bad"),
  };
}
