/** Dilution and blends. */
import { lamella } from "../api.js";
import { t } from "../messages/index.js";
import { decimals } from "../units/show.js";
import { short } from "../units/system.js";
import { type Calculator, fact } from "./answer.js";

const d = t.calculators.dilute;
const b = t.calculators.blend;

/** A percentage as such; anything else as it stands on a label, which the daemon reads. */
function strength(text: string) {
  const percent = /^(\d+\.?\d*|\.\d+)\s*%$/.exec(text);
  return percent === null
    ? { form: { case: "label" as const, value: text } }
    : { form: { case: "percent" as const, value: Number(percent[1]) } };
}

const volume = { type: "quantity", dimension: "volume" } as const;
const percent = { type: "quantity", dimension: "percent" } as const;
const flow = { type: "quantity", dimension: "flow" } as const;

export const dilute: Calculator = {
  id: "dilute",
  name: d.name,
  about: d.about,
  fields: [
    { id: "stock", label: d.stock, kind: { type: "text" }, required: true, example: "91%" },
    { id: "target", label: d.target, kind: { type: "text" }, required: true, example: "35%, 1:10, 1 in 10" },
    { id: "total", label: d.total, kind: volume, required: true, example: "1l, 32floz" },
    { id: "substance", label: d.substance, kind: { type: "choice", options: d.substances } },
    { id: "have", label: d.haveVolume, kind: volume, example: "200ml", more: true },
    { id: "have-strength", label: d.haveStrength, kind: { type: "text" }, example: "20%", more: true },
    { id: "water", label: d.injectorWater, kind: flow, example: "7.6l/min", more: true },
    { id: "draw", label: d.injectorDraw, kind: flow, example: "0.3l/min", more: true },
    { id: "place", label: d.targetPlace, kind: { type: "choice", options: d.places }, more: true },
    { id: "density", label: d.density, kind: { type: "number" }, example: "1.2", more: true },
    { id: "stock-ph", label: d.stockPh, kind: { type: "number" }, more: true },
    { id: "mix-ph", label: d.mixPh, kind: { type: "number" }, more: true },
  ],
  groups: [],
  async ask(values) {
    const have = values.number("have");
    const [water, draw] = [values.number("water"), values.number("draw")];
    const answer = await lamella.calculator.dilute({
      stock: strength(values.text("stock")),
      target: strength(values.text("target")),
      totalMl: values.needed("total"),
      substance: values.number("substance") ?? 0,
      targetPlace: values.number("place") ?? 0,
      ...(have !== undefined && { existing: { volumeMl: have, strength: strength(values.text("have-strength")) } }),
      ...((water !== undefined || draw !== undefined) && {
        injector: { ...(water !== undefined && { waterLPerMin: water }), ...(draw !== undefined && { drawLPerMin: draw }) },
      }),
      ...optional("stockDensityGPerMl", values.number("density")),
      ...optional("stockPh", values.number("stock-ph")),
      ...optional("mixPh", values.number("mix-ph")),
    });
    const { injector } = answer;
    return {
      headline: [
        ...fact("concentrateMl", d.concentrate, "ml", answer.concentrateMl),
        ...fact("diluentMl", d.diluent, "ml", answer.diluentMl),
      ],
      facts: [
        ...fact("totalMl", d.inAll, "ml", answer.totalMl),
        ...fact("strengthPercent", d.strength, "percent", answer.strengthPercent),
        ...fact("waterParts", d.parts, "number", answer.waterParts),
        ...fact("injector.outletPercent", d.atPanel, "percent", injector?.outletPercent),
        ...fact("injector.bottlePercent", d.inBottle, "percent", injector?.bottlePercent),
        ...fact("injector.bottleMinutes", d.lasts, "number", injector?.bottleMinutes),
        ...fact("trueTotalMl", d.trueTotal, "ml", answer.trueTotalMl),
        ...fact("trueStrengthPercent", d.trueStrength, "percent", answer.trueStrengthPercent),
        ...fact("exactConcentrateMl", d.exactConcentrate, "ml", answer.exactConcentrateMl),
        ...fact("exactDiluentMl", d.exactDiluent, "ml", answer.exactDiluentMl),
        ...fact("concentrateG", d.weightConcentrate, "g", answer.concentrateG),
        ...fact("diluentG", d.weightDiluent, "g", answer.diluentG),
        ...fact("flashPointC", d.flash, "c", answer.flashPointC),
      ],
      lines: answer.readings.map((reading) => d.reading(reading.text, short("percent", reading.percent), reading.used)),
      tables: [],
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};

export const blend: Calculator = {
  id: "blend",
  name: b.name,
  about: b.about,
  fields: [
    { id: "target", label: b.target, kind: percent, example: "30%" },
    { id: "total", label: b.total, kind: volume, example: "500ml" },
  ],
  groups: [
    {
      id: "liquid",
      label: b.liquids,
      one: b.liquid,
      least: 2,
      fields: [
        { id: "strength", label: b.strength, kind: percent, required: true, example: "70%" },
        { id: "volume", label: b.volume, kind: volume, example: "200ml" },
      ],
    },
  ],
  async ask(values) {
    const answer = await lamella.calculator.blendStrengths({
      liquids: values.rows("liquid").map((row) => ({
        percent: row.needed("strength"),
        ...optional("volumeMl", row.number("volume")),
      })),
      ...optional("targetPercent", values.number("target")),
      ...optional("totalMl", values.number("total")),
    });
    return {
      headline: answer.parts.flatMap((part, index) =>
        fact(`parts.${index}.volumeMl`, short("percent", part.percent), "ml", part.volumeMl),
      ),
      facts: [...fact("percent", b.result, "percent", answer.percent), ...fact("totalMl", b.inAll, "ml", answer.totalMl)],
      lines: [],
      tables: [
        {
          caption: b.liquids,
          head: [b.strength, b.share, b.volume],
          rows: answer.parts.map((part) => [
            short("percent", part.percent),
            `${decimals(part.sharePercent, 1)} %`,
            part.volumeMl === undefined ? t.app.none : short("ml", part.volumeMl),
          ]),
        },
      ],
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};

/** A property only where there is a value: an unset field is not a zero. */
export function optional<K extends string>(key: K, value: number | undefined): { [k in K]?: number } {
  return (value === undefined ? {} : { [key]: value }) as { [k in K]?: number };
}
