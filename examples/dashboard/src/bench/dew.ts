/** Is the panel dry enough to coat? And what other calculators ask of the bay's air. */
import { lamella } from "../api.js";
import { t } from "../messages/index.js";
import { type Calculator, fact, optional, scaled } from "./answer.js";
import type { Field, Values } from "./form.js";

const w = t.calculators.dew;
const c = t.calculators.cure;

const temperature = { type: "quantity", dimension: "temperature" } as const;
const percent = { type: "quantity", dimension: "percent" } as const;
const length = { type: "quantity", dimension: "length" } as const;
const pressure = { type: "quantity", dimension: "pressure" } as const;

/** Optional inputs for the bay's air, folded away under that name. */
export function airFields(more: string): readonly Field[] {
  return [
    { id: "air", label: c.air, kind: temperature, example: "20C", more },
    { id: "rh", label: c.rh, kind: percent, example: "50%", more },
    { id: "altitude", label: c.altitude, kind: length, example: "500m, 1600ft", more },
    { id: "pressure", label: c.airPressure, kind: pressure, example: "950hPa", more },
  ];
}

/** The air, if anything was said of it. */
export function airOf(values: Values) {
  const air = {
    ...optional("airC", values.number("air")),
    ...optional("relativeHumidityPercent", values.number("rh")),
    ...placeOf(values),
  };
  return Object.keys(air).length === 0 ? {} : { air };
}

function placeOf(values: Values) {
  return {
    ...optional("altitudeM", scaled(values.number("altitude"), 1000)),
    ...optional("pressurePa", values.number("pressure")),
  };
}

export const dew: Calculator = {
  id: "dew",
  name: w.name,
  about: w.about,
  fields: [
    { id: "air", label: w.air, kind: temperature, required: true, example: "25C, 77F" },
    { id: "rh", label: w.rh, kind: percent, required: true, example: "60%" },
    { id: "panel", label: w.panel, kind: temperature, example: "18C" },
    { id: "altitude", label: w.altitude, kind: length, example: "500m", more: t.bench.more },
    { id: "pressure", label: w.pressure, kind: pressure, example: "950hPa", more: t.bench.more },
  ],
  groups: [],
  async ask(values) {
    const answer = await lamella.calculator.dewPoint({
      airC: values.needed("air"),
      relativeHumidityPercent: values.needed("rh"),
      ...optional("panelC", values.number("panel")),
      ...placeOf(values),
    });
    return {
      headline: [
        ...fact("dewPointC", answer.frost ? w.frostPoint : w.dewPoint, "c", answer.dewPointC),
        ...fact("dewMarginK", w.margin, "k", answer.dewMarginK),
      ],
      facts: [
        ...fact("wetBulbC", w.wetBulb, "c", answer.wetBulbC),
        ...fact("absoluteHumidityGPerM3", w.vapour, "number", answer.absoluteHumidityGPerM3),
        ...fact("humidityRatio", w.ratio, "number", answer.humidityRatio),
        ...fact("grainsPerLb", w.grains, "number", answer.grainsPerLb),
        ...fact("saturationPa", w.saturation, "pa", answer.saturationPa),
        ...fact("pressurePa", w.pressure, "pa", answer.pressurePa),
      ],
      lines: [],
      tables: [],
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};
