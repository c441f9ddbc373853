/** How much product and how much water; what the mix is, what it costs, and its label. */
import type { DiluteResponse } from "@lamella/client";

import { lamella } from "../api.js";
import { t } from "../messages/index.js";
import { money } from "../job/Quotes.js";
import { short } from "../units/system.js";
import { type Calculator, fact, optional, type Rows } from "./answer.js";

const d = t.calculators.dilute;

/** A percentage as such; anything else as it stands on a label, which the daemon reads. */
function strength(text: string) {
  const percent = /^(\d+\.?\d*|\.\d+)\s*%$/.exec(text);
  return percent === null
    ? { form: { case: "label" as const, value: text } }
    : { form: { case: "percent" as const, value: Number(percent[1]) } };
}

const volume = { type: "quantity", dimension: "volume" } as const;
const number = { type: "number" } as const;
const text = { type: "text" } as const;
const flow = { type: "quantity", dimension: "flow" } as const;

export const dilute: Calculator = {
  id: "dilute",
  name: d.name,
  about: d.about,
  fields: [
    { id: "stock", label: d.stock, kind: text, required: true, unless: ["product"], example: "91%" },
    { id: "target", label: d.target, kind: text, required: true, unless: ["product"], example: "35%, 1:10, 1 in 10" },
    { id: "total", label: d.total, kind: volume, required: true, example: "1l, 32floz" },
    { id: "substance", label: d.substance, kind: { type: "choice", options: d.substances } },
    { id: "product", label: d.product, kind: { type: "shop", list: "chemicals" } },
    { id: "use", label: d.useFor, kind: text, example: "foam lance bottle", more: d.shopUse },
    { id: "have", label: d.haveVolume, kind: volume, example: "200ml", more: d.topUp },
    { id: "have-strength", label: d.haveStrength, kind: text, example: "20%", more: d.topUp },
    { id: "water", label: d.injectorWater, kind: flow, example: "7.6l/min", more: d.lance },
    { id: "draw", label: d.injectorDraw, kind: flow, example: "0.3l/min", more: d.lance },
    { id: "place", label: d.targetPlace, kind: { type: "choice", options: d.places }, more: d.lance },
    { id: "density", label: d.density, kind: number, example: "1.2", more: d.stockData },
    { id: "stock-ph", label: d.stockPh, kind: number, example: "13", more: d.stockData },
    { id: "mix-ph", label: d.mixPh, kind: number, example: "11", more: d.stockData },
    { id: "price", label: d.price, kind: { type: "money" }, example: "24.99 EUR", more: d.costAndLabel },
    { id: "price-volume", label: d.priceVolume, kind: volume, example: "5l", more: d.costAndLabel },
    { id: "label", label: d.label, kind: text, example: "Wipe-down", more: d.costAndLabel },
    { id: "mixed", label: d.mixedDate, kind: text, example: "2026-03-02", more: d.costAndLabel },
  ],
  groups: [
    {
      id: "part",
      label: d.components,
      one: d.component,
      least: 0,
      more: d.stockData,
      fields: [
        { id: "name", label: d.componentName, kind: text, required: true },
        { id: "percent", label: d.componentPercent, kind: { type: "quantity", dimension: "percent" }, required: true, example: "8%" },
        { id: "ph", label: d.componentPh, kind: number },
        { id: "small", label: d.notAdditive, kind: { type: "check" } },
        { id: "class", label: d.categories, kind: { type: "choices", options: d.categoryNames } },
      ],
    },
  ],
  async ask(values) {
    const have = values.number("have");
    const [water, draw] = [values.number("water"), values.number("draw")];
    const answer = await lamella.calculator.dilute({
      ...(values.text("stock") !== "" && { stock: strength(values.text("stock")) }),
      ...(values.text("target") !== "" && { target: strength(values.text("target")) }),
      productId: values.text("product"),
      useFor: values.text("use"),
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
      components: values.rows("part").map((row) => ({
        name: row.text("name"),
        percentByWeight: row.needed("percent"),
        categories: row.series("class"),
        notAdditive: row.checked("small"),
        ...optional("ph", row.number("ph")),
      })),
      ...optional("stockPrice", values.money("price")),
      ...optional("stockPriceVolumeMl", values.number("price-volume")),
      ...(values.text("label") !== "" && { label: { what: values.text("label"), mixedDate: values.text("mixed") || today() } }),
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
      lines: [
        ...answer.readings.map((reading) => d.reading(reading.text, short("percent", reading.percent), reading.used)),
        ...answer.hazardsNotJudged.map((what) => d.notJudged(what)),
      ],
      tables: tablesOf(answer),
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};

/** A label says when the bottle was filled; the day is the browser's. */
function today(): string {
  const now = new Date();
  const two = (value: number) => String(value).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

function tablesOf(answer: DiluteResponse): Rows[] {
  const costs = [
    [d.pourCost, answer.pourCost] as const,
    [d.costPerLitre, answer.costPerLitre] as const,
    [d.costAtPanel, answer.costPerLitreAtPanel] as const,
  ].flatMap(([name, cost]) => (cost === undefined ? [] : [[name, money(cost)]]));
  const all: Rows[] = [
    {
      caption: d.hazards,
      head: [d.hazardCode, d.hazardText, d.hazardRule],
      rows: answer.hazards.map(({ statementCode, text, rule }) => [statementCode, text, rule]),
    },
    {
      caption: d.limits,
      head: [d.limitKind, d.limitBy, "ppm", "mg/m³"],
      rows: answer.exposureLimits.map(({ kind, authority, ppm, mgPerM3 }) => [
        d.limitKinds[kind] ?? "",
        authority,
        short("number", ppm),
        short("number", mgPerM3),
      ]),
    },
    { caption: d.costs, head: [d.costs, t.job.amount], rows: costs },
    { caption: d.labelLines, head: [d.labelLines], rows: answer.labelLines.map((line) => [line]) },
  ];
  return all.filter(({ rows }) => rows.length > 0);
}
