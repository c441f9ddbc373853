/**
 * A log of the bay's air as a data logger writes it: lines of time, temperature and
 * perhaps humidity. By the rules of the lamella command: the first line names the
 * columns, a column's unit stands in its name or after every value, and one column
 * has one unit.
 */
import { t } from "../messages/index.js";
import { parse } from "../units/parse.js";

/** Conditions at one moment. */
export interface Logged {
  /** Milliseconds since the epoch. */
  readonly at: number;
  readonly panelC: number;
  readonly relativeHumidityPercent?: number;
}

const faults = t.bench.faults.log;

interface Column {
  readonly index: number;
  readonly unit: string;
  /** The unit of the lines so far. */
  seen?: string;
}

/** Reads a log. A time without a zone is the browser's. */
export function readLog(text: string): { value: readonly Logged[] } | { fault: string } {
  const lines = text.split(/\r?\n/).map((line) => line.split(/[,;\t]/).map((cell) => cell.trim().replace(/^"(.*)"$/, "$1")));
  const [head = [], ...rest] = lines;
  const time = find(head, ["time"]);
  const temperature = find(head, ["temperature", "panel", "temp"]);
  const humidity = find(head, ["rh", "humidity"]);
  if (time === undefined || temperature === undefined) return { fault: faults.head };
  const value: Logged[] = [];
  for (const [index, cells] of rest.entries()) {
    if (cells.every((cell) => cell === "")) continue;
    const wrong = (what: string) => ({ fault: faults.line(index + 2, what) });
    const at = Date.parse(cells[time.index] ?? "");
    if (Number.isNaN(at)) return wrong(t.bench.faults.time);
    const panelC = quantity("temperature", cells, temperature);
    if (typeof panelC === "string") return wrong(panelC);
    if (humidity === undefined) {
      value.push({ at, panelC });
      continue;
    }
    const relativeHumidityPercent = quantity("percent", cells, humidity);
    if (typeof relativeHumidityPercent === "string") return wrong(relativeHumidityPercent);
    value.push({ at, panelC, relativeHumidityPercent });
  }
  return value.length === 0 ? { fault: faults.empty } : { value };
}

/** A column by its name, whatever follows the name being its unit: `temperature_f`, `RH (%)`. */
function find(head: readonly string[], names: readonly string[]): Column | undefined {
  for (const [index, title] of head.entries()) {
    const [name = "", ...rest] = title.toLowerCase().replace(/^\ufeff/, "").split(/[_([ ]/);
    if (names.includes(name)) return { index, unit: rest.join("").replace(/[^\p{L}%]/gu, "") };
  }
  return undefined;
}

/** A value, or what is wrong with it. A column that changes its unit is likelier damaged than meant. */
function quantity(dimension: "temperature" | "percent", cells: readonly string[], column: Column): number | string {
  const text = cells[column.index] ?? "";
  const own = text.replace(/^[^\p{L}%°]*/u, "");
  const unit = (own === "" ? column.unit : own).toLowerCase();
  if (column.seen !== undefined && column.seen !== unit) return faults.unit(column.seen, unit);
  column.seen = unit;
  const read = parse(dimension, own === "" ? text + column.unit : text);
  return read.ok ? read.value : faults.value(text);
}
