/** Inputs survive the way through the address, and every fault is told at once. */
import { expect, test } from "vitest";

import { type Field, fromQuery, type Group, inputId, readAll, toAddress, toQuery } from "../../src/bench/form.js";
import { readLog } from "../../src/bench/log.js";
import { readOne } from "../../src/bench/read.js";

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

test("a log that is too long for an address stays out of it", () => {
  const logged: readonly Field[] = [...fields, { id: "log", label: "Log", kind: { type: "log" } }];
  const address = (lines: number) => toAddress({ fields: { total: "1l", log: "2026-03-02T10:00,20C\n".repeat(lines) }, rows: {} }, logged);
  expect(address(24).whole).toBe(true);
  expect(address(24).query.has("log")).toBe(true);
  const { query, whole } = address(1440);
  expect([whole, query.toString()]).toEqual([false, "total=1l"]);
});

test("a unit holds for the values before it", () => {
  const series: readonly Field[] = [{ id: "r", label: "R", kind: { type: "series", dimension: "thickness" } }];
  const read = (text: string) => readAll({ fields: { r: text }, rows: {} }, series, []);
  expect(read("108 111 4mil 107um").values.series("r")).toEqual([108 * 25.4, 111 * 25.4, 4 * 25.4, 107]);
  expect(read("108 111").faults.size).toBe(1);
});

test("amounts, corners, ranks and money are read as the command reads them", () => {
  expect(readOne({ type: "amount" }, "2 floz")).toEqual({ value: { ml: 59.147059125 } });
  expect(readOne({ type: "amount" }, "8oz")).toEqual({ value: { g: 226.796185 } });
  expect(readOne({ type: "amount" }, "8mm")).toHaveProperty("fault");
  expect(readOne({ type: "corners" }, "0,0; 10,0; 10,20in")).toEqual({ value: [0, 0, 254, 0, 254, 508] });
  for (const text of ["0,0,0; 1,1mm", "0;1mm", "0,0; 1,1", ""]) expect(readOne({ type: "corners" }, text)).toHaveProperty("fault");
  expect(readOne({ type: "ranked" }, "soft pad @ 2")).toEqual({ value: { name: "soft pad", rank: 2 } });
  expect(readOne({ type: "ranked" }, "soft pad")).toHaveProperty("fault");
  expect(readOne({ type: "money" }, "24.9 eur")).toEqual({ value: { currencyCode: "EUR", minorUnits: 2490n } });
  // More digits than a float holds, and a currency without a minor unit.
  expect(readOne({ type: "money" }, "90071992547409.93EUR")).toEqual({ value: { currencyCode: "EUR", minorUnits: 9007199254740993n } });
  expect(readOne({ type: "money" }, "250 JPY")).toEqual({ value: { currencyCode: "JPY", minorUnits: 250n } });
  for (const text of ["24.999EUR", "1.5JPY", "24", "EUR", "-1EUR"]) expect(readOne({ type: "money" }, text)).toHaveProperty("fault");
});

// 95 F is 35 C, 77 F is 25 C.
test("a log's units stand in the name or after the value", () => {
  const expected = [
    { at: Date.parse("2026-03-02T09:00:00Z"), panelC: 35, relativeHumidityPercent: 60 },
    { at: Date.parse("2026-03-02T10:00:00Z"), panelC: 25, relativeHumidityPercent: 55.5 },
  ];
  for (const text of [
    "time,temperature,rh\n2026-03-02T09:00:00Z,95F,60%\n2026-03-02T10:00:00Z,77F,55.5%\n",
    "\ufeffRH (%),Temperature (F),Time\r\n60,95,2026-03-02T09:00:00Z\r\n55.5,77,2026-03-02T10:00:00Z\r\n",
    "time,temp [C],humidity\n2026-03-02T09:00:00Z,35,60\n2026-03-02T10:00:00Z,25,55.5",
  ]) {
    expect(readLog(text), text).toEqual({ value: expected });
  }
});

test("what is wrong with a log is told with its line", () => {
  const fault = (text: string) => (readLog(text) as { fault: string }).fault;
  expect(fault("time,rh\n")).toContain("must name the columns");
  expect(fault("time,temperature\n")).toContain("no line below");
  expect(fault("time,temperature\n2026-03-02T09:00,20")).toMatch(/^Line 2: .20. cannot be read/);
  expect(fault("time,temperature\n2026-03-02T09:00,20C\n2026-03-02T10:00,68F")).toMatch(/^Line 3: the unit changes/);
  expect(fault("time,temperature\nyesterday,20C")).toMatch(/^Line 2: Write a date/);
});

test("an input may be spared by another, and rows on show may stay empty", () => {
  const text = { type: "text" } as const;
  const either: readonly Field[] = [
    { id: "a", label: "A", kind: text, required: true, unless: ["b"] },
    { id: "b", label: "B", kind: text },
  ];
  const faults = (query: string) => readAll(fromQuery(new URLSearchParams(query), either, []), either, []).faults.size;
  expect([faults(""), faults("a=x"), faults("b=x")]).toEqual([1, 0, 0]);
  const [roll] = groups;
  if (roll === undefined) throw new Error("there is no group");
  const rows = (group: Group) => readAll(fromQuery(new URLSearchParams(), [], [group]), [], [group]);
  expect(rows(roll).faults.size).toBe(1);
  expect(rows({ ...roll, mayBeEmpty: true }).faults.size).toBe(0);
});
