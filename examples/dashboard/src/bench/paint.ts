/** Gauge readings of a car's panels: statistics, signs of earlier work, and what may come off. */
import type { Caution, PanelAssessment } from "@lamella/client";

import { lamella } from "../api.js";
import { t } from "../messages/index.js";
import { short } from "../units/system.js";
import { type Answer, type Calculator, fact, omitUnset, optional, type Rows, told } from "./answer.js";
import type { Values } from "./form.js";
import { gaugeFields, gaugeOf } from "./gauge.js";
import { clearChart } from "./paint-chart.js";

const p = t.calculators.paint;
const thickness = { type: "quantity", dimension: "thickness" } as const;

export const paint: Calculator = {
  id: "paint",
  name: p.name,
  about: p.about,
  fields: [
    { id: "floor", label: p.floor, kind: thickness, example: "30um, 1.2mil", more: p.more },
    { id: "target-min", label: p.targetMin, kind: thickness, example: "90um", more: p.more },
    { id: "target-max", label: p.targetMax, kind: thickness, example: "150um", more: p.more },
    ...gaugeFields,
  ],
  groups: [
    {
      id: "spot",
      label: p.readings,
      one: p.one,
      least: 1,
      fields: [
        { id: "panel", label: p.panel, kind: { type: "text" }, required: true, example: "hood" },
        { id: "of", label: p.substrate, kind: { type: "choice", options: omitUnset(t.substrate) } },
        { id: "finish", label: p.finish, kind: { type: "choice", options: omitUnset(t.finish) } },
        { id: "name", label: p.spot, kind: { type: "text" }, example: "front" },
        { id: "values", label: p.values, kind: { type: "series", dimension: "thickness" }, example: "108 111 107um, 4.3mil" },
      ],
    },
    {
      id: "gone",
      label: p.gone,
      one: p.goneRow,
      least: 0,
      more: p.gone,
      fields: [
        { id: "panel", label: p.panel, kind: { type: "text" }, required: true },
        { id: "removed", label: p.removed, kind: thickness, required: true, example: "3um" },
        { id: "sd", label: p.removedSd, kind: thickness, example: "1um" },
      ],
    },
    {
      id: "layer",
      label: p.layers,
      one: p.layer,
      least: 0,
      more: p.layers,
      fields: [
        { id: "kind", label: p.kind, kind: { type: "choice", options: p.kinds }, required: true },
        { id: "mean", label: p.mean, kind: thickness, required: true, example: "45um" },
        { id: "sd", label: p.sd, kind: thickness, required: true, example: "5um" },
      ],
    },
  ],
  async ask(values) {
    const answer = await lamella.calculator.assessPaint({
      panels: panelsOf(values),
      layers: values.rows("layer").map((row) => ({
        kind: row.needed("kind"),
        meanUm: row.needed("mean"),
        sdUm: row.needed("sd"),
      })),
      ...optional("floorUm", values.number("floor")),
      ...optional("targetMinUm", values.number("target-min")),
      ...optional("targetMaxUm", values.number("target-max")),
      ...gaugeOf(values),
    });
    const { panels, floorUm } = answer;
    return {
      ...verdictOf(panels),
      headline: panels.flatMap((panel, index) => fact(`panels.${index}.budgetUm`, p.budget(panel.panel), "um", panel.budgetUm)),
      facts: fact("floorUm", p.floorUsed, "um", floorUm),
      lines: panels.flatMap(linesOf),
      // Without an estimate of the clear coat there is nothing to draw.
      ...(panels.some(({ clear }) => clear !== undefined)
        ? { tables: [spotTable(panels)], chart: { what: p.chart, draw: clearChart(panels, floorUm), table: panelTable(panels) } }
        : { tables: [panelTable(panels), spotTable(panels)] }),
      cautions: panels.flatMap(cautionsOf),
      model: answer.model,
    };
  },
};

/** Rows of one panel make one panel; what it is made of is said in any of them. */
function panelsOf(values: Values) {
  const names = [...new Set(values.rows("spot").map((row) => row.text("panel")))];
  return names.map((panel) => {
    const rows = values.rows("spot").filter((row) => row.text("panel") === panel);
    const first = (id: string) => rows.map((row) => row.number(id)).find((value) => value !== undefined) ?? 0;
    const gone = values.rows("gone").find((row) => row.text("panel") === panel);
    return {
      panel,
      substrate: first("of"),
      finish: first("finish"),
      spots: rows
        .map((row) => ({ spot: row.text("name"), readingsUm: row.series("values") }))
        .filter(({ readingsUm }) => readingsUm.length > 0),
      ...optional("removedUm", gone?.number("removed")),
      ...optional("removedStandardUm", gone?.number("sd")),
    };
  });
}

/** The one panel's signs in the largest type; of several, those with any. */
function verdictOf(panels: readonly PanelAssessment[]): Pick<Answer, "verdict"> {
  const odd = panels.filter(({ suspicion }) => suspicion > 1);
  const [only] = panels;
  if (panels.length === 1 && only !== undefined) {
    const text = p.suspicions[only.suspicion] ?? "";
    return { verdict: { text: text.charAt(0).toLocaleUpperCase() + text.slice(1), tone: odd.length > 0 ? "stop" : "plain", sentence: "" } };
  }
  if (odd.length === 0) return {};
  return {
    verdict: {
      text: odd.map(({ panel, suspicion }) => p.suspicion(panel, p.suspicions[suspicion] ?? "")).join("; "),
      tone: "stop",
      sentence: "",
    },
  };
}

function linesOf(panel: PanelAssessment): string[] {
  const name = panel.panel;
  const place = (spot: string) => (spot === "" ? "" : p.atPlace(spot));
  const lines: string[] = [];
  if (!panel.readable && panel.spots.length > 0) lines.push(p.unreadable(name));
  for (const { code, spot, seenUm, limitUm } of panel.signs) {
    lines.push(p.sign(name, place(spot), code.toLowerCase().replaceAll("_", " "), short("um", seenUm), short("um", limitUm)));
  }
  for (const { spot, odd } of panel.spots) {
    for (const { readingUm, leftOut } of odd) lines.push(p.odd(`${name}${place(spot)}`, short("um", readingUm), leftOut));
  }
  const { acceptance } = panel;
  if (acceptance !== undefined) {
    const say = acceptance.accepted ? p.accepted : p.notAccepted;
    lines.push(say(name, short("um", acceptance.spotMinUm), short("um", acceptance.spotMaxUm)));
    if (!acceptance.complete) lines.push(p.incomplete(name));
  }
  return lines;
}

function panelTable(panels: readonly PanelAssessment[]): Rows {
  return {
    caption: p.judged,
    head: [p.panel, p.substrate, p.total, p.clear, p.clearRange, p.atSpot, p.signs],
    rows: panels.map(({ panel, substrate, meanUm, uncertainty, clear, governingSpot, suspicion }) => [
      panel,
      t.substrate[substrate] ?? "",
      meanUm === undefined ? t.app.none : p.within(short("um", meanUm), told("um", uncertainty?.expandedUm)),
      told("um", clear?.meanUm),
      clear === undefined ? t.app.none : p.span(short("um", clear.lowUm), short("um", clear.highUm)),
      clear === undefined ? t.app.none : governingSpot || t.app.none,
      p.suspicions[suspicion] ?? "",
    ]),
  };
}

function spotTable(panels: readonly PanelAssessment[]): Rows {
  return {
    caption: p.spots,
    head: [p.spot, p.count, p.mean, p.known, p.sampleSd, p.median, p.robustSd, p.range, p.clear, p.verdict],
    rows: panels.flatMap(({ panel, spots }) =>
      spots.map((spot) => [
        `${panel}${spot.spot === "" ? "" : p.atPlace(spot.spot)}`,
        String(spot.count),
        short("um", spot.meanUm),
        told("um", spot.uncertainty?.expandedUm),
        told("um", spot.sampleSdUm),
        short("um", spot.medianUm),
        told("um", spot.robustSdUm),
        p.span(short("um", spot.minUm), short("um", spot.maxUm)),
        told("um", spot.clear?.meanUm),
        p.verdicts[spot.verdict] ?? "",
      ]),
    ),
  };
}

/** What a caution is about goes before its text, since several panels share one list. */
function cautionsOf({ panel, cautions }: PanelAssessment): Caution[] {
  return cautions.map((caution) => ({ ...caution, text: caution.text.includes(panel) ? caution.text : `${panel}: ${caution.text}` }));
}
