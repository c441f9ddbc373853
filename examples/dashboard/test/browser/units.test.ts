/** The page reads a quantity as the lamella command does: that command is asked, over a real daemon. */
import { afterAll, beforeAll, expect, test } from "vitest";

import { parse } from "../../src/units/parse.js";
import type { Dimension } from "../../src/units/table.js";
import { Daemon } from "./harness.js";

let daemon: Daemon;
beforeAll(async () => {
  daemon = await Daemon.start();
});
afterAll(() => daemon.remove());

/** Where the command's answer repeats a quantity that it was given. */
type Echo = (text: string) => Promise<number>;
const get = async (path: string, ...args: string[]): Promise<number> => {
  let value: unknown = await daemon.lamella(...args);
  for (const key of path.split(".")) value = (value as Record<string, unknown>)[key];
  return Number(value);
};
const volume: Echo = (text) => get("totalMl", "dilute", "--stock", "100%", "--target", "50%", "--total", text);
const thickness: Echo = (text) => get("floorUm", "advise", "--floor", text);
const temperature: Echo = (text) => get("ceilingC", "advise", `--ceiling=${text}`);
const pressure: Echo = (text) => get("pressurePa", "dew", "20C", "50%", "--station-pressure", text);
const percent: Echo = (text) => get("strengthPercent", "dilute", "--stock", "100%", "--target", `${text.replace("%", "")}%`, "--total", "1l");
const length: Echo = (text) => get("layouts.0.lengthToPullMm", "film", "--piece", `a=100mmx${text}`, "--roll", "r=1524mm");
const difference: Echo = (text) => get("temperatureUncertaintyK", "cure", "--product", "x", "--dry", "1h", "--panel", "20C", "--panel-within", text);
const duration: Echo = async (text) => 3600 * (await get("milestones.0.afterHours", "cure", "--product", "x", "--dry", text, "--panel", "20C"));
const flow: Echo = async (text) => {
  const args = ["--stock", "100%", "--target", "1%", "--total", "1l", "--injector-water", text, "--injector-draw", "1l/min"];
  const share = await get("injector.sharePercent", "dilute", ...args);
  return 100 / share - 1;
};

const GOOD: readonly (readonly [Dimension, Echo, readonly string[]])[] = [
  ["volume", volume, ["500ml", "50cl", "1 l", "0.5L", "32floz", "128 fl oz", "2pt", "1qt", ".5gal", "10impfloz", "1imppt", "1impgal"]],
  ["thickness", thickness, ["40um", "40µm", "1.6mil", "0.04mm"]],
  ["temperature", temperature, ["35C", "35 °C", "95F", "95°f", "308.15K", "80.6F"]],
  ["difference", difference, ["1.5K", "2C", "3F", "9 f"]],
  ["pressure", pressure, ["95kPa", "14psi", "0.95bar", "950hPa", "950mbar", "95000Pa"]],
  ["percent", percent, ["35", "35%", "9.5%"]],
  ["length", length, ["1500mm", "150cm", "1.5m", "60in", '60"', "5ft", "5'", "1.5yd"]],
  ["duration", duration, ["90min", "1h30min", "36000s", "12h", "2d", "1day", "5400 sec"]],
  ["flow", flow, ["7.6l/min", "2gal/min", "2gpm", "7600ml/min", "250floz/min", "400l/h"]],
];

test.each(GOOD)("%s", async (dimension, echo, texts) => {
  for (const text of texts) {
    const read = parse(dimension, text);
    expect(read, text).toMatchObject({ ok: true });
    // The daemon rounds some of what it repeats to six digits; no two units are that near.
    const told = await echo(text);
    if (read.ok) expect(Math.abs(read.value / told - 1), `${text}: page ${read.value}, command ${told}`).toBeLessThan(1e-5);
  }
});

const BAD: readonly (readonly [Dimension, Echo, readonly string[]])[] = [
  ["volume", volume, ["500", "500mm", "1,5l", "ml", "", "5e2ml", "inf", "1.2.3l", "--5ml", "1 ml 2"]],
  ["temperature", temperature, ["35", "35R", "35,5C", "warm"]],
  ["duration", duration, ["90", "1h30", "1h30mm", "h"]],
];

test.each(BAD)("%s is refused by both", async (dimension, echo, texts) => {
  for (const text of texts) {
    expect(parse(dimension, text), text).toMatchObject({ ok: false });
    // 2 is the command's exit code for usage.
    await expect(echo(text), text).rejects.toMatchObject({ code: 2 });
  }
});
