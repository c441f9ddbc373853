/** Correction: advice on the next pass, heat, and what came off. */
import { AdviceAction, type PassDoneSchema, type MessageInitShape } from "@lamella/client";

import { lamella } from "../api.js";
import { t } from "../messages/index.js";
import type { Palette } from "../ui/Chart.js";
import { short } from "../units/system.js";
import { type Calculator, fact } from "./answer.js";
import { optional } from "./liquids.js";

const a = t.calculators.advise;
const h = t.calculators.heat;
const r = t.calculators.removal;

const temperature = { type: "quantity", dimension: "temperature" } as const;
const thickness = { type: "quantity", dimension: "thickness" } as const;
const duration = { type: "quantity", dimension: "duration" } as const;
const length = { type: "quantity", dimension: "length" } as const;
const whole = { type: "whole" } as const;
const number = { type: "number" } as const;
/** Without "not known", which is what an empty choice means. */
const substrates = omitUnset(t.substrate);
const outcomes = omitUnset(t.outcome);

function omitUnset(names: Record<number, string>): Record<number, string> {
  return Object.fromEntries(Object.entries(names).filter(([value]) => value !== "0"));
}

export const advise: Calculator = {
  id: "advise",
  name: a.name,
  about: a.about,
  fields: [
    { id: "substrate", label: a.substrate, kind: { type: "choice", options: substrates } },
    { id: "clear", label: a.clear, kind: thickness, example: "45um, 1.8mil" },
    { id: "ceiling", label: a.ceiling, kind: temperature, example: "35C, 95F" },
    { id: "edge", label: a.edge, kind: { type: "check" } },
    { id: "goal", label: a.goal, kind: { type: "choice", options: a.goals }, more: true },
    { id: "clear-sd", label: a.clearSd, kind: thickness, example: "3um", more: true },
    { id: "floor", label: a.floor, kind: thickness, example: "25um", more: true },
    { id: "defect", label: a.defect, kind: thickness, example: "1.5um", more: true },
    { id: "target", label: a.target, kind: temperature, example: "30C", more: true },
    { id: "now", label: a.now, kind: temperature, example: "22C", more: true },
    { id: "time-left", label: a.timeLeft, kind: duration, example: "4min", more: true },
    { id: "override", label: a.override, kind: { type: "text" }, more: true },
  ],
  groups: [
    {
      id: "pass",
      label: a.passes,
      one: a.pass,
      least: 0,
      fields: [
        { id: "rung", label: a.rung, kind: whole, required: true, example: "1" },
        { id: "panel", label: a.passPanel, kind: temperature, example: "27C, 80.6F" },
        { id: "outcome", label: a.outcome, kind: { type: "choice", options: outcomes }, required: true },
        { id: "removal", label: a.removal, kind: thickness, example: "0.5um" },
      ],
    },
  ],
  async ask(values) {
    const answer = await lamella.calculator.advisePass({
      substrate: values.number("substrate") ?? 0,
      edge: values.checked("edge"),
      ...optional("clearUm", values.number("clear")),
      ...optional("clearSdUm", values.number("clear-sd")),
      ...optional("floorUm", values.number("floor")),
      ...optional("ceilingC", values.number("ceiling")),
      ...optional("panelNowC", values.number("now")),
      goal: values.number("goal") ?? 0,
      ...optional("defectUm", values.number("defect")),
      ...optional("targetC", values.number("target")),
      ...optional("timeLeftS", values.number("time-left")),
      overrideReason: values.text("override"),
      passes: values.rows("pass").map(
        (row): MessageInitShape<typeof PassDoneSchema> => ({
          rung: row.needed("rung"),
          outcome: row.needed("outcome"),
          ...optional("panelC", row.number("panel")),
          ...optional("removalUm", row.number("removal")),
        }),
      ),
    });
    const { setup } = answer;
    const stop = answer.action === AdviceAction.STOP;
    return {
      verdict: {
        text: [a.actions[answer.action], answer.rung > 0 ? a.rungOf(answer.rung, answer.rungs) : ""].filter(Boolean).join(": "),
        tone: stop ? "stop" : "go",
        sentence: answer.sentence.charAt(0).toLocaleUpperCase() + answer.sentence.slice(1),
      },
      headline: [],
      facts: [
        ...fact("rung", a.rung, "number", answer.rung),
        ...fact("headroomK", a.headroom, "k", answer.headroomK),
        ...fact("predictedPanelC", a.predicted, "c", answer.predictedPanelC),
        ...fact("ceilingC", a.ceiling, "c", answer.ceilingC),
        ...fact("removalBudgetUm", a.budget, "um", answer.removalBudgetUm),
        ...fact("removedUm", a.removed, "um", answer.removedUm),
        ...fact("floorUm", a.floor, "um", answer.floorUm),
      ],
      lines: answer.explain,
      tables:
        setup === undefined
          ? []
          : [
              {
                caption: a.with,
                head: [t.job.setup, t.job.speed, t.job.pressure, t.job.time],
                rows: [
                  [
                    [setup.machine?.name, setup.pad?.name, setup.liquid?.name].filter(Boolean).join(", "),
                    String(setup.speed),
                    short("pa", setup.pressureKpa * 1000),
                    short("seconds", setup.seconds),
                  ],
                ],
              },
            ],
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};

export const heat: Calculator = {
  id: "heat",
  name: h.name,
  about: h.about,
  fields: [
    { id: "substrate", label: h.substrate, kind: { type: "choice", options: substrates } },
    { id: "start", label: h.start, kind: temperature, required: true, example: "20C, 68F" },
    { id: "air", label: h.air, kind: temperature, required: true, example: "20C" },
    { id: "pad", label: h.pad, kind: length, required: true, example: "125mm, 5in" },
    { id: "orbit", label: h.orbit, kind: length, example: "15mm" },
    { id: "orbits", label: h.orbits, kind: number, example: "4000" },
    { id: "turns", label: h.turns, kind: number, example: "1200" },
    { id: "target", label: h.target, kind: temperature, example: "29C", more: true },
    { id: "ceiling", label: h.ceiling, kind: temperature, example: "35C", more: true },
    { id: "thickness", label: h.thickness, kind: length, example: "0.7mm", more: true },
    { id: "edge", label: h.edge, kind: { type: "check" }, more: true },
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
  ],
  async ask(values) {
    const [orbit, orbits, turns] = [values.number("orbit"), values.number("orbits"), values.number("turns")];
    const answer = await lamella.calculator.predictHeat({
      panel: { substrate: values.number("substrate") ?? 0, ...optional("thicknessMm", values.number("thickness")) },
      startC: values.needed("start"),
      airC: values.needed("air"),
      padMm: values.needed("pad"),
      motion: {
        kind:
          orbit === undefined && orbits === undefined
            ? { case: "rotary", value: { ...optional("turnsPerMin", turns) } }
            : {
                case: "dualAction",
                value: { ...optional("orbitMm", orbit), ...optional("orbitsPerMin", orbits), ...optional("turnsPerMin", turns) },
              },
      },
      segments: values.rows("step").map((row) => ({
        seconds: row.needed("time"),
        ...optional("pressureKpa", scaledPressure(row.number("pressure"))),
      })),
      ...optional("targetC", values.number("target")),
      ...optional("ceilingC", values.number("ceiling")),
      edge: values.checked("edge"),
    });
    const ceilingC = answer.used?.ceilingC;
    const warmest = answer.segments.reduce((best, { peak }, index) =>
      (peak?.panelC ?? 0) > (answer.segments[best]?.peak?.panelC ?? Number.NEGATIVE_INFINITY) ? index : best, 0);
    const hot = answer.segments[warmest];
    return {
      headline: [
        ...fact(`segments.${warmest}.peak.panelC`, h.peak, "c", hot?.peak?.panelC),
        ...fact(`segments.${warmest}.headroomK`, h.headroom, "k", hot?.headroomK),
      ],
      facts: [...fact("used.ceilingC", h.ceilingUsed, "c", ceilingC)],
      lines: [],
      tables: [
        {
          caption: h.steps,
          head: [h.time, h.peak, h.range, h.end, h.headroom],
          rows: answer.segments.map((segment) => [
            short("seconds", segment.seconds),
            short("c", segment.peak?.panelC ?? 0),
            h.within(short("c", segment.peak?.lowC ?? 0), short("c", segment.peak?.highC ?? 0)),
            short("c", segment.end?.panelC ?? 0),
            short("k", segment.headroomK),
          ]),
        },
      ],
      chart: { what: h.chart, draw: heatChart(answer.curve, ceilingC) },
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};

type Curve = Awaited<ReturnType<typeof lamella.calculator.predictHeat>>["curve"];

function heatChart(curve: Curve, ceilingC: number | undefined) {
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

export const removal: Calculator = {
  id: "removal",
  name: r.name,
  about: r.about,
  fields: [
    { id: "before", label: r.before, kind: { type: "series", dimension: "thickness" }, required: true, example: "112 114 111um" },
    { id: "after", label: r.after, kind: { type: "series", dimension: "thickness" }, required: true, example: "108 109 108um" },
    { id: "two", label: r.twoGauges, kind: { type: "check" } },
  ],
  groups: [],
  async ask(values) {
    // One spot, so that both sides are paired whatever it is called.
    const spot = (id: string) => [{ spot: "", readingsUm: values.series(id) }];
    const answer = await lamella.calculator.measureRemoval({
      before: spot("before"),
      after: spot("after"),
      twoGauges: values.checked("two"),
    });
    return {
      verdict: { text: r.verdicts[answer.verdict] ?? "", tone: "plain", sentence: "" },
      headline: fact("removalUm", r.removed, "um", answer.removalUm),
      facts: [...fact("lowUm", r.low, "um", answer.lowUm), ...fact("highUm", r.high, "um", answer.highUm)],
      lines: [],
      tables: [],
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};

function scaledPressure(pa: number | undefined): number | undefined {
  return pa === undefined ? undefined : pa / 1000;
}
