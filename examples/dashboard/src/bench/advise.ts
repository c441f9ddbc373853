/** Advice on the next pass, on the built-in ladder, the shop's or one's own. */
import {
  AdviceAction,
  type AdvisePassResponse,
  type Alternative,
  type MessageInitShape,
  type PassDoneSchema,
  type SetupSchema,
} from "@lamella/client";

import { lamella } from "../api.js";
import { t } from "../messages/index.js";
import { decimals } from "../units/show.js";
import { short } from "../units/system.js";
import { type Calculator, fact, omitUnset, optional, type Rows, scaled, told } from "./answer.js";
import type { Group, Values } from "./form.js";

const a = t.calculators.advise;

const temperature = { type: "quantity", dimension: "temperature" } as const;
const thickness = { type: "quantity", dimension: "thickness" } as const;
const duration = { type: "quantity", dimension: "duration" } as const;
const pressure = { type: "quantity", dimension: "pressure" } as const;
const whole = { type: "whole" } as const;
const ranked = { type: "ranked" } as const;

const passes: Group = {
  id: "pass",
  label: a.passes,
  one: a.pass,
  least: 0,
  fields: [
    { id: "rung", label: a.rung, kind: whole, required: true, example: "1" },
    { id: "panel", label: a.passPanel, kind: temperature, example: "27C, 80.6F" },
    { id: "outcome", label: a.outcome, kind: { type: "choice", options: omitUnset(t.outcome) }, required: true },
    { id: "removal", label: a.removal, kind: thickness, example: "0.5um" },
    { id: "start", label: a.startC, kind: temperature, example: "22C" },
  ],
};

const ladder: Group = {
  id: "rung",
  label: a.ladder,
  one: a.ladderRung,
  least: 0,
  more: a.ownLadder,
  fields: [
    { id: "machine", label: a.machine, kind: ranked, required: true, example: "random orbital@1" },
    { id: "pad", label: a.padItem, kind: ranked, required: true, example: "soft pad@1" },
    { id: "liquid", label: a.liquidItem, kind: ranked, required: true, example: "fine polish@1" },
    { id: "speed", label: t.job.speed, kind: whole, required: true, example: "3" },
    { id: "pressure", label: t.job.pressure, kind: pressure, required: true, example: "2kPa, 0.3psi" },
    { id: "time", label: t.job.time, kind: duration, required: true, example: "30s" },
  ],
};

export const advise: Calculator = {
  id: "advise",
  name: a.name,
  about: a.about,
  fields: [
    { id: "substrate", label: a.substrate, kind: { type: "choice", options: omitUnset(t.substrate) } },
    { id: "clear", label: a.clear, kind: thickness, example: "45um, 1.8mil" },
    { id: "ceiling", label: a.ceiling, kind: temperature, example: "35C, 95F" },
    { id: "now", label: a.now, kind: temperature, example: "22C" },
    { id: "edge", label: a.edge, kind: { type: "check" } },
    { id: "goal", label: a.goal, kind: { type: "choice", options: a.goals }, more: a.goalAndTime },
    { id: "defect", label: a.defect, kind: thickness, example: "1.5um", more: a.goalAndTime },
    { id: "target", label: a.target, kind: temperature, example: "30C", more: a.goalAndTime },
    { id: "time-left", label: a.timeLeft, kind: duration, example: "4min", more: a.goalAndTime },
    { id: "clear-sd", label: a.clearSd, kind: thickness, example: "3um", more: a.knowledge },
    { id: "floor", label: a.floor, kind: thickness, example: "25um", more: a.knowledge },
    { id: "gauge-sd", label: a.gaugeSd, kind: thickness, example: "0.8um", more: a.knowledge },
    { id: "confidence", label: a.confidence, kind: { type: "quantity", dimension: "percent" }, example: "95%", more: a.knowledge },
    { id: "shop", label: a.shopSetups, kind: { type: "check" }, more: a.ownLadder },
    { id: "override", label: a.override, kind: { type: "text" }, more: a.overrideTitle },
  ],
  groups: [passes, ladder],
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
      ...optional("gaugeSdUm", values.number("gauge-sd")),
      ...optional("floorConfidencePercent", values.number("confidence")),
      ...optional("targetC", values.number("target")),
      ...optional("timeLeftS", values.number("time-left")),
      overrideReason: values.text("override"),
      passes: values.rows("pass").map(passOf),
      ladder: values.rows("rung").map(rungOf),
      shopSetups: values.checked("shop"),
    });
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
        ...fact("removalChargeUm", a.charge, "um", answer.removalChargeUm),
        ...fact("removedUm", a.removed, "um", answer.removedUm),
        ...fact("floorUm", a.floor, "um", answer.floorUm),
        ...fact("floorConfidencePercent", a.confidenceUsed, "percent", answer.floorConfidencePercent),
      ],
      lines: linesOf(answer),
      sums: answer.explain,
      tables: [...setupOf(answer), ...weighed(answer.alternatives)],
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};

function passOf(row: Values): MessageInitShape<typeof PassDoneSchema> {
  return {
    rung: row.needed("rung"),
    outcome: row.needed("outcome"),
    ...optional("panelC", row.number("panel")),
    ...optional("removalUm", row.number("removal")),
    ...optional("startC", row.number("start")),
  };
}

function rungOf(row: Values): MessageInitShape<typeof SetupSchema> {
  return {
    ...optional("machine", row.ranked("machine")),
    ...optional("pad", row.ranked("pad")),
    ...optional("liquid", row.ranked("liquid")),
    speed: row.needed("speed"),
    pressureKpa: scaled(row.needed("pressure"), 1000) ?? 0,
    seconds: row.needed("time"),
  };
}

/** The daemon's reasons are stable codes; as words they read well enough. */
const words = (codes: readonly string[]) => codes.map((code) => code.toLowerCase().replaceAll("_", " ")).join(", ");

function linesOf(answer: AdvisePassResponse): string[] {
  return [
    ...(answer.stops.length === 0 ? [] : [a.stops(words(answer.stops))]),
    ...(answer.capRung === 0 ? [] : [a.capped(answer.capRung)]),
    ...(answer.overridden === "" ? [] : [a.overridden(answer.overridden)]),
  ];
}

function setupOf({ setup }: AdvisePassResponse): Rows[] {
  if (setup === undefined) return [];
  const names = [setup.machine?.name, setup.pad?.name, setup.liquid?.name].filter(Boolean).join(", ");
  return [
    {
      caption: a.with,
      head: [t.job.setup, t.job.speed, t.job.pressure, t.job.time],
      rows: [[names, String(setup.speed), short("kpa", setup.pressureKpa), short("seconds", setup.seconds)]],
    },
  ];
}

function weighed(alternatives: readonly Alternative[]): Rows[] {
  if (alternatives.length === 0) return [];
  return [
    {
      caption: a.weighed,
      head: [a.rung, a.expectedRemoval, a.predicted, t.job.time, a.chance, a.reasons],
      rows: alternatives.map((each) => [
        String(each.rung),
        short("um", each.removalUm),
        told("c", each.panelC),
        short("seconds", each.seconds),
        each.chancePercent === undefined ? t.app.none : `${decimals(each.chancePercent, 0)} %`,
        words(each.reasons),
      ]),
    },
  ];
}
