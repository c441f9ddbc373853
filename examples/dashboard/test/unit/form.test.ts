/** Inputs survive the way through the address, and every fault is told at once. */
import { expect, test } from "vitest";

import { type Field, fromQuery, type Group, inputId, readAll, toQuery } from "../../src/bench/form.js";

const fields: readonly Field[] = [
  { id: "total", label: "Total", kind: { type: "quantity", dimension: "volume" }, required: true },
  { id: "panel", label: "Panel", kind: { type: "quantity", dimension: "temperature" } },
];
const groups: readonly Group[] = [
  {
    id: "roll",
    label: "Rolls",
    one: "roll",
    least: 1,
    fields: [
      { id: "name", label: "Name", kind: { type: "text" } },
      { id: "w", label: "Width", kind: { type: "quantity", dimension: "length" }, required: true },
      { id: "l", label: "Length", kind: { type: "quantity", dimension: "length" } },
    ],
  },
];

test("an address leads to the same inputs, empty ones in their places", () => {
  const query = "total=32floz&roll.name=&roll.w=60in&roll.l=&roll.name=offcut&roll.w=760mm&roll.l=2m";
  const typed = fromQuery(new URLSearchParams(query), fields, groups);
  expect(typed.rows["roll"]).toEqual([
    { name: "", w: "60in", l: "" },
    { name: "offcut", w: "760mm", l: "2m" },
  ]);
  expect(toQuery(typed).toString()).toBe(query);
  const { values, faults } = readAll(typed, fields, groups);
  expect(faults.size).toBe(0);
  expect(values.rows("roll").map((row) => [row.needed("w"), row.number("l")])).toEqual([
    [1524, undefined],
    [760, 2000],
  ]);
});

test("all faults are told, each at its input", () => {
  const typed = fromQuery(new URLSearchParams("panel=12mm&roll.w=1,5m"), fields, groups);
  const { faults } = readAll(typed, fields, groups);
  expect([...faults.keys()].sort()).toEqual([inputId("panel"), inputId("total"), inputId("w", "roll", 0)].sort());
});

test("a unit holds for the values before it", () => {
  const series: readonly Field[] = [{ id: "r", label: "R", kind: { type: "series", dimension: "thickness" } }];
  const read = (text: string) => readAll({ fields: { r: text }, rows: {} }, series, []);
  expect(read("108 111 4mil 107um").values.series("r")).toEqual([108 * 25.4, 111 * 25.4, 4 * 25.4, 107]);
  expect(read("108 111").faults.size).toBe(1);
});
