/** When a coating may be wiped, recoated, driven, washed: held, or through logged and forecast days. */
import { type CureMilestone, timestampFromDate } from "@lamella/client";

import { lamella } from "../api.js";
import { t } from "../messages/index.js";
import { full, millis } from "../times.js";
import { short } from "../units/system.js";
import { type Answer, type Calculator, fact, optional, type Rows, scaled, told } from "./answer.js";
import { cureChart } from "./cure-chart.js";
import { airFields, airOf } from "./dew.js";
import type { Field, Values } from "./form.js";
import type { Logged } from "./log.js";

const c = t.calculators.cure;
const temperature = { type: "quantity", dimension: "temperature" } as const;
const duration = { type: "quantity", dimension: "duration" } as const;
const percent = { type: "quantity", dimension: "percent" } as const;
const number = { type: "number" } as const;
const MOST_ROWS = 100;
const LOG_EXAMPLE = "time,temperature,rh\n2026-03-02 10:00,18C,55%";

const coatingFields: readonly Field[] = [
  { id: "product", label: c.product, kind: { type: "text" }, required: true, unless: ["coating"], example: "two-year coating" },
  { id: "coating", label: c.productId, kind: { type: "shop", list: "coatings" } },
  { id: "panel", label: c.panel, kind: temperature, required: true, unless: ["log", "forecast"], example: "18C, 65F" },
  { id: "dry", label: c.dry, kind: duration, required: true, unless: ["coating"], example: "12h" },
  { id: "wash", label: c.wash, kind: duration, example: "7d" },
  { id: "ea", label: c.energy, kind: number, example: "60" },
  { id: "applied", label: c.applied, kind: { type: "time" } },
  { id: "wipe-from", label: c.wipeFrom, kind: duration, example: "2min", more: c.otherTimes },
  { id: "wipe-by", label: c.wipeBy, kind: duration, example: "5min", more: c.otherTimes },
  { id: "recoat-from", label: c.recoatFrom, kind: duration, example: "1h", more: c.otherTimes },
  { id: "recoat-by", label: c.recoatBy, kind: duration, example: "24h", more: c.otherTimes },
  { id: "full", label: c.full, kind: duration, example: "30d", more: c.otherTimes },
  { id: "reference", label: c.reference, kind: temperature, example: "20C", more: c.otherTimes },
  { id: "q10", label: c.q10, kind: number, example: "2", more: c.response },
  { id: "moisture", label: c.moisture, kind: percent, example: "50%", more: c.response },
  { id: "exponent", label: c.moistureExponent, kind: number, example: "1", more: c.response },
  { id: "min-panel", label: c.minPanel, kind: temperature, example: "10C", more: c.allowed },
  { id: "max-panel", label: c.maxPanel, kind: temperature, example: "30C", more: c.allowed },
  { id: "min-rh", label: c.minRh, kind: percent, example: "30%", more: c.allowed },
  { id: "max-rh", label: c.maxRh, kind: percent, example: "80%", more: c.allowed },
];

export const cure: Calculator = {
  id: "cure",
  name: c.name,
  about: c.about,
  fields: [
    ...coatingFields,
    ...airFields(c.bayAir),
    { id: "log", label: c.log, kind: { type: "log" }, example: LOG_EXAMPLE, more: c.logged },
    { id: "forecast", label: c.forecast, kind: { type: "log" }, example: LOG_EXAMPLE, more: c.logged },
    { id: "panel-within", label: c.panelWithin, kind: { type: "quantity", dimension: "difference" }, example: "1.5K, 3F", more: c.lampsAndDoubt },
    { id: "rate-within", label: c.rateWithin, kind: percent, example: "25%", more: c.lampsAndDoubt },
    { id: "release-by", label: c.releaseBy, kind: { type: "time" }, more: c.promise },
    { id: "release", label: c.release, kind: { type: "choice", options: c.releases }, more: c.promise },
  ],
  groups: [
    {
      id: "rate",
      label: c.ratePoints,
      one: c.ratePoint,
      least: 0,
      more: c.response,
      fields: [
        { id: "at", label: c.ratePanel, kind: temperature, required: true, example: "10C" },
        { id: "rate", label: c.rateValue, kind: number, required: true, example: "0.5" },
      ],
    },
    {
      id: "lamp",
      label: c.lamps,
      one: c.lamp,
      least: 0,
      more: c.lampsAndDoubt,
      fields: [
        { id: "from", label: c.lampFrom, kind: duration, required: true, example: "30min" },
        { id: "to", label: c.lampTo, kind: duration, required: true, example: "1h" },
        { id: "panel", label: c.lampPanel, kind: temperature, required: true, example: "60C" },
      ],
    },
  ],
  async ask(values) {
    const [log, forecast] = [values.log("log"), values.log("forecast")];
    const { samples, forecastFrom } = joined(log, forecast);
    const [applied, releaseBy] = [values.number("applied"), values.number("release-by")];
    const answer = await lamella.calculator.timeCure({
      coating: coatingOf(values),
      // A log takes the place of a temperature that is held.
      ...(samples.length === 0 && optional("panelC", values.number("panel"))),
      ...airOf(values),
      ...optional("appliedTime", applied === undefined ? undefined : instant(applied)),
      samples: samples.map(({ at, panelC, relativeHumidityPercent }) => ({
        time: instant(at),
        panelC,
        ...optional("relativeHumidityPercent", relativeHumidityPercent),
      })),
      ...optional("forecastFromTime", forecastFrom === undefined ? undefined : instant(forecastFrom)),
      lamps: values.rows("lamp").map((row) => ({
        fromHours: row.needed("from") / 3600,
        toHours: row.needed("to") / 3600,
        panelC: row.needed("panel"),
      })),
      ...optional("temperatureUncertaintyK", values.number("panel-within")),
      ...optional("rateUncertaintyPercent", values.number("rate-within")),
      ...optional("releaseByTime", releaseBy === undefined ? undefined : instant(releaseBy)),
      releaseMilestone: values.number("release") ?? 0,
    });
    return {
      ...(releaseBy !== undefined && { verdict: startBy(answer.latestStartTime) }),
      headline: answer.milestones.flatMap(({ kind, afterHours }, index) =>
        kind >= 5 ? fact(`milestones.${index}.afterHours`, t.cure[kind] ?? "", "hours", afterHours) : [],
      ),
      facts: [
        ...fact("rate", c.rate, "number", answer.rate),
        ...fact("meanKineticC", c.kinetic, "c", answer.meanKineticC),
        ...fact("dewPointC", c.dewPoint, "c", answer.dewPointC),
        ...fact("dewMarginK", c.dewMargin, "k", answer.dewMarginK),
      ],
      lines: [],
      tables: [milestones(answer.milestones)],
      ...(samples.length > 1 && {
        chart: { what: c.chart, draw: cureChart(samples, forecastFrom, answer.milestones), table: samplesTable(samples) },
      }),
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};

const instant = (at: number) => timestampFromDate(new Date(at));

/** What is forecast for times that were logged is left out. */
function joined(log: readonly Logged[], forecast: readonly Logged[]): { samples: readonly Logged[]; forecastFrom?: number } {
  const last = log.at(-1)?.at;
  const samples = [...log, ...forecast.filter(({ at }) => last === undefined || at > last)];
  return { samples, ...(forecast.length > 0 && optional("forecastFrom", last ?? samples[0]?.at)) };
}

function coatingOf(values: Values) {
  const hours = (id: string) => scaled(values.number(id), 3600);
  const minutes = (id: string) => scaled(values.number(id), 60);
  const [energy, q10, moisture] = [values.number("ea"), values.number("q10"), values.number("moisture")];
  const points = values.rows("rate").map((row) => ({ panelC: row.needed("at"), rate: row.needed("rate") }));
  return {
    product: values.text("product"),
    productId: values.text("coating"),
    ...optional("referenceC", values.number("reference")),
    ...(points.length > 0
      ? { temperatureResponse: { case: "rateTable" as const, value: { points } } }
      : energy !== undefined
        ? { temperatureResponse: { case: "activationEnergyKjPerMol" as const, value: energy } }
        : q10 !== undefined && { temperatureResponse: { case: "q10" as const, value: q10 } }),
    ...(moisture !== undefined && {
      humidityResponse: { referenceRelativeHumidityPercent: moisture, ...optional("exponent", values.number("exponent")) },
    }),
    ...optional("wipeEarliestMinutes", minutes("wipe-from")),
    ...optional("wipeLatestMinutes", minutes("wipe-by")),
    ...optional("recoatOpenHours", hours("recoat-from")),
    ...optional("recoatCloseHours", hours("recoat-by")),
    ...optional("dryHours", hours("dry")),
    ...optional("washHours", hours("wash")),
    ...optional("fullCureHours", hours("full")),
    ...optional("minPanelC", values.number("min-panel")),
    ...optional("maxPanelC", values.number("max-panel")),
    ...optional("minRelativeHumidityPercent", values.number("min-rh")),
    ...optional("maxRelativeHumidityPercent", values.number("max-rh")),
  };
}

function startBy(latest: Parameters<typeof millis>[0] | undefined): NonNullable<Answer["verdict"]> {
  return latest === undefined
    ? { text: c.noStart, tone: "stop", sentence: "" }
    : { text: c.latestStart(full(millis(latest))), tone: "go", sentence: "" };
}

/** A day logged by the minute is told in as many rows as can be read. */
function samplesTable(samples: readonly Logged[]): Rows {
  const every = Math.ceil(samples.length / MOST_ROWS);
  return {
    caption: c.logged,
    head: [t.job.when, c.panelAt, c.rh],
    rows: samples
      .filter((_, index) => index % every === 0)
      .map(({ at, panelC, relativeHumidityPercent }) => [full(at), short("c", panelC), told("percent", relativeHumidityPercent)]),
  };
}

/** The range only where there is one: without stated uncertainties both ends are the expected. */
function milestones(all: readonly CureMilestone[]): Rows {
  const ranged = all.some(({ earliestHours, latestHours }) => earliestHours !== latestHours);
  const forecast = all.some(({ restsOnForecast }) => restsOnForecast);
  return {
    caption: c.milestones,
    head: [t.job.milestone, c.after, t.job.due, ...(ranged ? [c.earliest, c.latest] : []), ...(forecast ? [c.forecastOnly] : [])],
    rows: all.map(({ kind, afterHours, dueTime, earliestHours, latestHours, restsOnForecast }) => [
      t.cure[kind] ?? "",
      short("hours", afterHours),
      dueTime === undefined ? t.app.none : full(millis(dueTime)),
      ...(ranged ? [told("hours", earliestHours), told("hours", latestHours)] : []),
      ...(forecast ? [restsOnForecast ? t.app.yes : t.app.none] : []),
    ]),
  };
}
