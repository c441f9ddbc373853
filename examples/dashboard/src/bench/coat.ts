/** Cure and dew point. */
import { timestampFromDate } from "@lamella/client";

import { lamella } from "../api.js";
import { t } from "../messages/index.js";
import { full, millis } from "../times.js";
import { short } from "../units/system.js";
import { type Calculator, fact } from "./answer.js";
import { optional } from "./liquids.js";

const c = t.calculators.cure;
const w = t.calculators.dew;

const temperature = { type: "quantity", dimension: "temperature" } as const;
const duration = { type: "quantity", dimension: "duration" } as const;
const percent = { type: "quantity", dimension: "percent" } as const;

export const cure: Calculator = {
  id: "cure",
  name: c.name,
  about: c.about,
  fields: [
    { id: "product", label: c.product, kind: { type: "text" }, required: true, example: "two-year coating" },
    { id: "panel", label: c.panel, kind: temperature, required: true, example: "18C, 65F" },
    { id: "dry", label: c.dry, kind: duration, required: true, example: "12h" },
    { id: "wash", label: c.wash, kind: duration, example: "7d" },
    { id: "ea", label: c.energy, kind: { type: "number" }, example: "60" },
    { id: "applied", label: c.applied, kind: { type: "time" } },
    { id: "wipe-from", label: c.wipeFrom, kind: duration, example: "2min", more: true },
    { id: "wipe-by", label: c.wipeBy, kind: duration, example: "5min", more: true },
    { id: "recoat-from", label: c.recoatFrom, kind: duration, example: "1h", more: true },
    { id: "recoat-by", label: c.recoatBy, kind: duration, example: "24h", more: true },
    { id: "full", label: c.full, kind: duration, example: "30d", more: true },
    { id: "reference", label: c.reference, kind: temperature, example: "20C", more: true },
    { id: "q10", label: c.q10, kind: { type: "number" }, example: "2", more: true },
    { id: "air", label: c.air, kind: temperature, example: "20C", more: true },
    { id: "rh", label: c.rh, kind: percent, example: "50%", more: true },
  ],
  groups: [],
  async ask(values) {
    const hours = (id: string) => scaled(values.number(id), 3600);
    const minutes = (id: string) => scaled(values.number(id), 60);
    const [energy, q10] = [values.number("ea"), values.number("q10")];
    const [airC, rh] = [values.number("air"), values.number("rh")];
    const applied = values.number("applied");
    const answer = await lamella.calculator.timeCure({
      coating: {
        product: values.text("product"),
        ...optional("referenceC", values.number("reference")),
        ...(energy !== undefined
          ? { temperatureResponse: { case: "activationEnergyKjPerMol" as const, value: energy } }
          : q10 !== undefined && { temperatureResponse: { case: "q10" as const, value: q10 } }),
        ...optional("wipeEarliestMinutes", minutes("wipe-from")),
        ...optional("wipeLatestMinutes", minutes("wipe-by")),
        ...optional("recoatOpenHours", hours("recoat-from")),
        ...optional("recoatCloseHours", hours("recoat-by")),
        ...optional("dryHours", hours("dry")),
        ...optional("washHours", hours("wash")),
        ...optional("fullCureHours", hours("full")),
      },
      panelC: values.needed("panel"),
      ...((airC !== undefined || rh !== undefined) && {
        air: { ...optional("airC", airC), ...optional("relativeHumidityPercent", rh) },
      }),
      ...(applied !== undefined && { appliedTime: timestampFromDate(new Date(applied)) }),
    });
    return {
      headline: answer.milestones.flatMap(({ kind, afterHours }, index) =>
        kind >= 5 ? fact(`milestones.${index}.afterHours`, t.cure[kind] ?? "", "hours", afterHours) : [],
      ),
      facts: [
        ...fact("rate", c.rate, "number", answer.rate),
        ...fact("dewPointC", c.dewPoint, "c", answer.dewPointC),
        ...fact("dewMarginK", c.dewMargin, "k", answer.dewMarginK),
      ],
      lines: [],
      tables: [
        {
          caption: c.milestones,
          head: [t.job.milestone, c.after, t.job.due],
          rows: answer.milestones.map(({ kind, afterHours, dueTime }) => [
            t.cure[kind] ?? "",
            short("hours", afterHours),
            dueTime === undefined ? t.app.none : full(millis(dueTime)),
          ]),
        },
      ],
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};

export const dew: Calculator = {
  id: "dew",
  name: w.name,
  about: w.about,
  fields: [
    { id: "air", label: w.air, kind: temperature, required: true, example: "25C, 77F" },
    { id: "rh", label: w.rh, kind: percent, required: true, example: "60%" },
    { id: "panel", label: w.panel, kind: temperature, example: "18C" },
    { id: "altitude", label: w.altitude, kind: { type: "quantity", dimension: "length" }, example: "500m", more: true },
    { id: "pressure", label: w.pressure, kind: { type: "quantity", dimension: "pressure" }, example: "950hPa", more: true },
  ],
  groups: [],
  async ask(values) {
    const answer = await lamella.calculator.dewPoint({
      airC: values.needed("air"),
      relativeHumidityPercent: values.needed("rh"),
      ...optional("panelC", values.number("panel")),
      ...optional("altitudeM", scaled(values.number("altitude"), 1000)),
      ...optional("pressurePa", values.number("pressure")),
    });
    return {
      headline: [
        ...fact("dewPointC", w.dewPoint, "c", answer.dewPointC),
        ...fact("dewMarginK", w.margin, "k", answer.dewMarginK),
      ],
      facts: [
        ...fact("wetBulbC", w.wetBulb, "c", answer.wetBulbC),
        ...fact("absoluteHumidityGPerM3", w.vapour, "number", answer.absoluteHumidityGPerM3),
        ...fact("humidityRatio", w.ratio, "number", answer.humidityRatio),
        ...fact("grainsPerLb", w.grains, "number", answer.grainsPerLb),
        ...fact("pressurePa", w.pressure, "pa", answer.pressurePa),
      ],
      lines: [],
      tables: [],
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};

function scaled(value: number | undefined, divisor: number): number | undefined {
  return value === undefined ? undefined : value / divisor;
}
