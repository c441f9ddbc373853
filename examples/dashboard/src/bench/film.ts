/** How much film to pull, and where each piece lies on the roll. */
import type { FilmLayout } from "@lamella/client";

import { lamella } from "../api.js";
import { t } from "../messages/index.js";
import { short } from "../units/system.js";
import { type Calculator, fact, type Layout, optional, type Rows } from "./answer.js";
import type { Field } from "./form.js";

const f = t.calculators.film;
const length = { type: "quantity", dimension: "length" } as const;
const count: Field = { id: "n", label: f.count, kind: { type: "whole" }, example: "1" };
const named: Field = { id: "name", label: f.named, kind: { type: "text" } };

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
      mayBeEmpty: true,
      fields: [
        named,
        { id: "w", label: f.width, kind: length, required: true, example: "1500mm, 60in" },
        { id: "h", label: f.height, kind: length, required: true, example: "1200mm" },
        count,
        { id: "wrap", label: f.wrap, kind: { type: "series", dimension: "length" }, example: "15mm, or 0 0 10 10mm" },
      ],
    },
    {
      id: "shape",
      label: f.polygons,
      one: f.polygon,
      least: 0,
      fields: [
        named,
        count,
        { id: "corners", label: f.corners, kind: { type: "corners" }, required: true, example: "0,0; 600,0; 600,400; 0,350mm" },
        { id: "wrap", label: f.polygonWrap, kind: { type: "series", dimension: "length" }, example: "15mm" },
      ],
    },
    {
      id: "roll",
      label: f.rolls,
      one: f.roll,
      least: 1,
      fields: [
        named,
        { id: "w", label: f.rollWidth, kind: length, required: true, unless: ["film"], example: "1524mm, 60in" },
        { id: "l", label: f.rollLength, kind: length, example: "15m" },
        { id: "film", label: f.filmId, kind: { type: "shop", list: "films" } },
      ],
    },
  ],
  async ask(values) {
    const mayRotate = values.checked("rotate");
    // What has no name is numbered; the tables and the drawing need something to call it.
    const names = [...values.rows("piece"), ...values.rows("shape")].map((row, index) => row.text("name") || f.pieceNumber(index + 1));
    const answer = await lamella.calculator.measureFilm({
      pieces: [
        ...values.rows("piece").map((row) => ({
          shape: { case: "rectangle" as const, value: { widthMm: row.needed("w"), heightMm: row.needed("h") } },
          overwrapMm: row.series("wrap"),
          quantity: row.number("n") ?? 0,
          mayRotate,
        })),
        ...values.rows("shape").map((row) => ({
          shape: { case: "polygon" as const, value: { points: corners(row.series("corners")) } },
          overwrapMm: row.series("wrap"),
          quantity: row.number("n") ?? 0,
          mayRotate,
        })),
      ].map((piece, index) => ({ ...piece, piece: names[index] ?? "" })),
      rolls: values.rows("roll").map((row, index) => ({
        roll: row.text("name") || f.rollNumber(index + 1),
        filmId: row.text("film"),
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
      ...(best !== undefined && { layout: drawing(best) }),
      tables: [
        ...(best === undefined ? [] : [placements(best)]),
        {
          caption: f.areas,
          head: [f.named, f.finishedOne, f.cutOne, f.blank],
          rows: answer.pieces.map((piece) => [
            piece.piece,
            short("m2", piece.finishedM2),
            short("m2", piece.cutM2),
            size(piece.blankWidthMm, piece.blankHeightMm),
          ]),
        },
        ...(answer.layouts.length < 2 ? [] : [rolls(answer.layouts)]),
      ],
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};

/** Corners from x, y, x, y. */
function corners(flat: readonly number[]) {
  return flat.flatMap((xMm, index) => (index % 2 === 0 ? [{ xMm, yMm: flat[index + 1] ?? 0 }] : []));
}

const size = (widthMm: number, heightMm: number) => `${short("mm", widthMm)} × ${short("mm", heightMm)}`;

function placements(layout: FilmLayout): Rows {
  return {
    caption: f.blanks,
    head: [f.number, f.named, f.across, f.along, f.size, f.turned],
    rows: layout.placements.map((place, index) => [
      String(index + 1),
      `${place.piece} ${place.copy}`,
      short("mm", place.xMm),
      short("mm", place.yMm),
      size(place.widthMm, place.heightMm),
      place.rotated ? t.app.yes : t.app.none,
    ]),
  };
}

function rolls(layouts: readonly FilmLayout[]): Rows {
  return {
    caption: f.layouts,
    head: [f.named, f.pulled, f.waste],
    rows: layouts.map((layout) => [layout.roll, short("mm", layout.lengthToPullMm), short("percent", layout.wastePercent)]),
  };
}

/** The roll's width follows from what was pulled off it. */
function drawing(layout: FilmLayout): Layout {
  const acrossMm = (layout.pulledM2 * 1e6) / layout.lengthToPullMm;
  return {
    what: f.drawn(layout.roll),
    caption: f.drawnCaption(layout.roll, short("mm", acrossMm), short("mm", layout.lengthToPullMm)),
    acrossMm,
    alongMm: layout.lengthToPullMm,
    blanks: layout.placements.map(({ piece, xMm, yMm, widthMm, heightMm }) => ({ label: piece, xMm, yMm, widthMm, heightMm })),
  };
}
