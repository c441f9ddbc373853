/** How much film to pull. */
import { lamella } from "../api.js";
import { t } from "../messages/index.js";
import { short } from "../units/system.js";
import { type Calculator, fact } from "./answer.js";
import { optional } from "./liquids.js";

const f = t.calculators.film;
const length = { type: "quantity", dimension: "length" } as const;

export const film: Calculator = {
  id: "film",
  name: f.name,
  about: f.about,
  fields: [
    { id: "margin", label: f.margin, kind: length, example: "25mm" },
    { id: "gap", label: f.gap, kind: length, example: "5mm" },
    { id: "rotate", label: f.rotate, kind: { type: "check" } },
  ],
  groups: [
    {
      id: "piece",
      label: f.pieces,
      one: f.piece,
      least: 1,
      fields: [
        { id: "name", label: f.named, kind: { type: "text" } },
        { id: "w", label: f.width, kind: length, required: true, example: "1500mm, 60in" },
        { id: "h", label: f.height, kind: length, required: true, example: "1200mm" },
        { id: "wrap", label: f.wrap, kind: length, example: "15mm" },
        { id: "n", label: f.count, kind: { type: "whole" }, example: "1" },
      ],
    },
    {
      id: "roll",
      label: f.rolls,
      one: f.roll,
      least: 1,
      fields: [
        { id: "name", label: f.named, kind: { type: "text" } },
        { id: "w", label: f.rollWidth, kind: length, required: true, example: "1524mm, 60in" },
        { id: "l", label: f.rollLength, kind: length, example: "15m" },
      ],
    },
  ],
  async ask(values) {
    const answer = await lamella.calculator.measureFilm({
      pieces: values.rows("piece").map((row) => ({
        piece: row.text("name"),
        shape: { case: "rectangle" as const, value: { widthMm: row.needed("w"), heightMm: row.needed("h") } },
        overwrapMm: row.number("wrap") === undefined ? [] : [row.needed("wrap")],
        quantity: row.number("n") ?? 0,
        mayRotate: values.checked("rotate"),
      })),
      rolls: values.rows("roll").map((row) => ({
        roll: row.text("name"),
        ...optional("widthMm", row.number("w")),
        ...optional("lengthMm", row.number("l")),
      })),
      handlingMarginMm: values.number("margin") ?? 0,
      gapMm: values.number("gap") ?? 0,
    });
    const best = answer.layouts[0];
    return {
      ...(best === undefined && { verdict: { text: f.none, tone: "stop" as const, sentence: "" } }),
      headline:
        best === undefined
          ? []
          : [
              ...fact("layouts.0.lengthToPullMm", f.pull(best.roll), "mm", best.lengthToPullMm),
              ...fact("layouts.0.wastePercent", f.waste, "percent", best.wastePercent),
            ],
      facts: [
        ...fact("finishedM2", f.finished, "m2", answer.finishedM2),
        ...fact("cutM2", f.cut, "m2", answer.cutM2),
        ...fact("layouts.0.pulledM2", f.pulled, "m2", best?.pulledM2),
        ...fact("layouts.0.usedM2", f.used, "m2", best?.usedM2),
      ],
      lines: answer.refusals.map((refusal) => `${refusal.roll}: ${refusal.message.replaceAll("`", "")}`),
      tables: [
        ...(answer.layouts.length < 2
          ? []
          : [
              {
                caption: f.layouts,
                head: [f.named, f.pulled, f.waste],
                rows: answer.layouts.map((layout) => [
                  layout.roll,
                  short("mm", layout.lengthToPullMm),
                  short("percent", layout.wastePercent),
                ]),
              },
            ]),
        ...(best === undefined
          ? []
          : [
              {
                caption: f.blanks,
                head: [f.named, f.across, f.along, f.size, f.turned],
                rows: best.placements.map((place) => [
                  `${place.piece} ${place.copy}`,
                  short("mm", place.xMm),
                  short("mm", place.yMm),
                  `${short("mm", place.widthMm)} × ${short("mm", place.heightMm)}`,
                  place.rotated ? t.app.yes : t.app.none,
                ]),
              },
            ]),
      ],
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};
