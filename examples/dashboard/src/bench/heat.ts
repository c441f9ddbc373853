/** How warm polishing makes a panel, fitted to readings where there are any. */
import type { PredictHeatResponse } from "@lamella/client";

import { lamella } from "../api.js";
import { t } from "../messages/index.js";
import { short } from "../units/system.js";
import { type Calculator, fact, omitUnset, optional, type Rows, scaled } from "./answer.js";
import type { Values } from "./form.js";
import { heatChart } from "./heat-chart.js";

const h = t.calculators.heat;

const temperature = { type: "quantity", dimension: "temperature" } as const;
const duration = { type: "quantity", dimension: "duration" } as const;
const length = { type: "quantity", dimension: "length" } as const;
const number = { type: "number" } as const;

export const heat: Calculator = {
  id: "heat",
  name: h.name,
  about: h.about,
  fields: [
    { id: "substrate", label: h.substrate, kind: { type: "choice", options: omitUnset(t.substrate) } },
    { id: "start", label: h.start, kind: temperature, required: true, example: "20C, 68F" },
    { id: "air", label: h.air, kind: temperature, required: true, example: "20C" },
    { id: "pad", label: h.pad, kind: length, required: true, example: "125mm, 5in" },
    { id: "orbit", label: h.orbit, kind: length, example: "15mm" },
    { id: "orbits", label: h.orbits, kind: number, example: "4000" },
    { id: "turns", label: h.turns, kind: number, example: "1200" },
    { id: "target", label: h.target, kind: temperature, example: "29C", more: h.limits },
    { id: "ceiling", label: h.ceiling, kind: temperature, example: "35C", more: h.limits },
    { id: "edge", label: h.edge, kind: { type: "check" }, more: h.limits },
    { id: "thickness", label: h.thickness, kind: length, example: "0.7mm", more: h.panelMake },
    { id: "paint", label: h.paint, kind: { type: "quantity", dimension: "thickness" }, example: "120um, 4.7mil", more: h.panelMake },
    { id: "front", label: h.front, kind: number, example: "15", more: h.panelMake },
    { id: "back", label: h.back, kind: number, example: "5", more: h.panelMake },
    { id: "section-w", label: h.sectionWidth, kind: length, example: "40cm", more: h.working },
    { id: "section-h", label: h.sectionHeight, kind: length, example: "40cm", more: h.working },
    { id: "hand", label: h.hand, kind: length, example: "50mm", more: h.working },
    { id: "friction", label: h.friction, kind: number, example: "0.4", more: h.working },
    { id: "share", label: h.share, kind: number, example: "0.5", more: h.working },
    { id: "read-sd", label: h.readSd, kind: { type: "quantity", dimension: "difference" }, example: "0.5K, 1F", more: h.readTitle },
  ],
  groups: [
    {
      id: "step",
      label: h.steps,
      one: h.step,
      least: 1,
      fields: [
        { id: "time", label: h.time, kind: duration, required: true, example: "60s" },
        { id: "pressure", label: h.pressure, kind: { type: "quantity", dimension: "pressure" }, example: "3kPa, 0.4psi" },
      ],
    },
    {
      id: "read",
      label: h.readings,
      one: h.readingOne,
      least: 0,
      more: h.readTitle,
      fields: [
        { id: "at", label: h.readAt, kind: duration, required: true, example: "60s" },
        { id: "panel", label: h.readPanel, kind: temperature, required: true, example: "27C, 81F" },
      ],
    },
  ],
  async ask(values) {
    const [wide, high] = [values.number("section-w"), values.number("section-h")];
    const answer = await lamella.calculator.predictHeat({
      panel: {
        substrate: values.number("substrate") ?? 0,
        ...optional("thicknessMm", values.number("thickness")),
        ...optional("paintUm", values.number("paint")),
        ...optional("frontHWPerM2K", values.number("front")),
        ...optional("backHWPerM2K", values.number("back")),
      },
      startC: values.needed("start"),
      airC: values.needed("air"),
      padMm: values.needed("pad"),
      motion: motionOf(values),
      ...optional("areaCm2", wide === undefined || high === undefined ? undefined : (wide * high) / 100),
      ...optional("armMmPerS", values.number("hand")),
      ...optional("friction", values.number("friction")),
      ...optional("shareToPanel", values.number("share")),
      segments: values.rows("step").map((row) => ({
        seconds: row.needed("time"),
        ...optional("pressureKpa", scaled(row.number("pressure"), 1000)),
      })),
      observations: values.rows("read").map((row) => ({ afterS: row.needed("at"), panelC: row.needed("panel") })),
      ...optional("readingSdK", values.number("read-sd")),
      ...optional("targetC", values.number("target")),
      ...optional("ceilingC", values.number("ceiling")),
      edge: values.checked("edge"),
    });
    const { segments, target } = answer;
    const ceilingC = answer.used?.ceilingC;
    const warmest = segments.reduce(
      (best, { peak }, index) => ((peak?.panelC ?? 0) > (segments[best]?.peak?.panelC ?? Number.NEGATIVE_INFINITY) ? index : best),
      0,
    );
    const hot = segments[warmest];
    return {
      headline: [
        ...fact(`segments.${warmest}.peak.panelC`, h.peak, "c", hot?.peak?.panelC),
        ...fact(`segments.${warmest}.headroomK`, h.headroom, "k", hot?.headroomK),
      ],
      facts: [
        ...fact("used.ceilingC", h.ceilingUsed, "c", ceilingC),
        ...fact(`segments.${warmest}.underPadK`, h.underPad, "k", hot?.underPadK),
        ...fact("target.longer.seconds", h.longer, "seconds", target?.longer?.seconds),
        ...fact("target.harder.pressureKpa", h.harder, "kpa", target?.harder?.pressureKpa),
        ...fact("factor.factor", h.factor, "number", answer.factor?.factor),
        ...fact("tauS", h.tau, "seconds", answer.tauS),
      ],
      lines: linesOf(answer),
      tables: [],
      chart: { what: h.chart, draw: heatChart(answer.curve, ceilingC), table: stepsOf(segments) },
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};

/** A pad with an orbit is dual action; one without only turns. */
function motionOf(values: Values) {
  const [orbit, orbits, turns] = [values.number("orbit"), values.number("orbits"), values.number("turns")];
  if (orbit === undefined && orbits === undefined) {
    return { kind: { case: "rotary" as const, value: optional("turnsPerMin", turns) } };
  }
  const value = { ...optional("orbitMm", orbit), ...optional("orbitsPerMin", orbits), ...optional("turnsPerMin", turns) };
  return { kind: { case: "dualAction" as const, value } };
}

function stepsOf(segments: PredictHeatResponse["segments"]): Rows {
  return {
    caption: h.steps,
    head: [h.time, h.peak, h.range, h.end, h.headroom],
    rows: segments.map((segment) => [
      short("seconds", segment.seconds),
      short("c", segment.peak?.panelC ?? 0),
      h.within(short("c", segment.peak?.lowC ?? 0), short("c", segment.peak?.highC ?? 0)),
      short("c", segment.end?.panelC ?? 0),
      short("k", segment.headroomK),
    ]),
  };
}

function linesOf({ factor, target }: PredictHeatResponse): string[] {
  const unreached = target !== undefined && target.longer === undefined && target.harder === undefined;
  return [h.factorBasis[factor?.basis ?? 0] ?? "", unreached ? h.notReached(short("c", target.targetC)) : ""].filter(Boolean);
}
