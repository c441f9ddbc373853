/** Every form gives the answer of the lamella command, typed in by keyboard as a person would. */
import { readFileSync } from "node:fs";

import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, expect, test } from "vitest";

import { Daemon, launch, open, type Watched } from "./harness.js";

let daemon: Daemon;
let browser: Browser;
let window: Watched;
beforeAll(async () => {
  daemon = await Daemon.start();
  browser = await launch();
  window = await open(browser, daemon.address, { viewport: { width: 1280, height: 900 } });
});
afterAll(async () => {
  await browser.close();
  await daemon.remove();
});

/** What is typed into which label, in order; `Add` presses that button; `true` ticks. */
type Step = readonly [label: string, text: string | true, row?: number];
interface Case {
  readonly id: string;
  readonly steps: readonly Step[];
  readonly command: readonly string[];
  /** Figures whose presence is part of the test, by their path in the command's JSON. */
  readonly facts: readonly string[];
}

const CASES: readonly Case[] = [
  {
    id: "dilute",
    steps: [
      ["Stock in the bottle", "91%"],
      ["Wanted strength", "35%"],
      ["Wanted volume", "32floz"],
      ["Kind of product", "2-propanol"],
    ],
    command: ["dilute", "--stock", "91%", "--target", "35%", "--total", "32floz", "--substance", "isopropyl-alcohol"],
    facts: ["concentrateMl", "diluentMl", "totalMl", "flashPointC", "trueTotalMl", "concentrateG"],
  },
  {
    id: "dilute",
    steps: [
      ["Stock in the bottle", "100%"],
      ["Wanted strength", "1:100"],
      ["Wanted volume", "1l"],
      ["More inputs", "open"],
      ["Lance: water flow", "7.6l/min"],
      ["Lance: draw", "0.3l/min"],
    ],
    command: ["dilute", "--stock", "100%", "--target", "1:100", "--total", "1l", "--injector-water", "7.6l/min", "--injector-draw", "0.3l/min"],
    facts: ["concentrateMl", "injector.outletPercent", "injector.bottlePercent", "injector.bottleMinutes"],
  },
  {
    id: "film",
    steps: [
      ["Handling margin", "1in"],
      ["Gap between pieces", "5mm"],
      ["Pieces may be turned", true],
      ["Name", "face", 0],
      ["Width", "1650mm"],
      ["Height", "420mm"],
      ["Overwrap, every edge", "15mm"],
      ["Add piece", "press"],
      ["Name", "corner", 1],
      ["Width", "380mm", 1],
      ["Height", "300mm", 1],
      ["How many", "2", 1],
      ["Name", "wide", 2],
      ["Roll width", "60in"],
    ],
    command: ["film", "--piece", "face=1650mmx420mm+15mm", "--piece", "corner*2=380mmx300mm", "--roll", "wide=60in", "--margin", "1in", "--gap", "5mm", "--may-rotate"],
    facts: ["layouts.0.lengthToPullMm", "layouts.0.wastePercent", "finishedM2", "cutM2"],
  },
  {
    id: "cure",
    steps: [
      ["Coating", "two-year coating"],
      ["Panel temperature", "65F"],
      ["Dry after", "12h"],
      ["Wash from", "7d"],
      ["Activation energy, kJ/mol", "60"],
      ["More inputs", "open"],
      ["Recoat from", "1h"],
      ["Recoat by", "24h"],
      ["Bay air", "20C"],
      ["Relative humidity", "50%"],
    ],
    command: ["cure", "--product", "two-year coating", "--panel", "65F", "--dry", "12h", "--wash", "7d", "--ea", "60", "--recoat", "1h..24h", "--air", "20C", "--rh", "50%"],
    facts: ["milestones.1.afterHours", "milestones.3.afterHours", "rate", "dewPointC", "dewMarginK"],
  },
  {
    id: "advise",
    steps: [
      ["Panel is of", "composite"],
      ["Never warmer than", "95F"],
      ["Add pass", "press"],
      ["Rung", "1"],
      ["Highest temperature", "80.6F"],
      ["Outcome", "unchanged"],
      ["Add pass", "press"],
      ["Rung", "2", 1],
      ["Highest temperature", "87.3F", 1],
      ["Outcome", "improved", 1],
    ],
    command: ["advise", "--substrate", "composite", "--ceiling", "95F", "--pass", "1:80.6F:unchanged", "--pass", "2:87.3F:improved"],
    facts: ["rung", "headroomK", "ceilingC", "predictedPanelC"],
  },
  {
    id: "dew",
    steps: [
      ["Air temperature", "77F"],
      ["Relative humidity", "60"],
      ["Panel temperature", "65F"],
      ["More inputs", "open"],
      ["Height above sea level", "1600ft"],
    ],
    command: ["dew", "77F", "60%", "--panel", "65F", "--altitude", "1600ft"],
    facts: ["dewPointC", "dewMarginK", "wetBulbC", "absoluteHumidityGPerM3", "pressurePa"],
  },
  {
    id: "heat",
    steps: [
      ["Panel is of", "steel"],
      ["Panel at the start", "20C"],
      ["Air temperature", "68F"],
      ["Pad diameter", "5in"],
      ["Orbit diameter", "15mm"],
      ["Orbits per minute", "4000"],
      ["Time", "60s"],
      ["Pressure; none for a pause", "3kPa"],
      ["Add step", "press"],
      ["Time", "30s", 1],
      ["Add step", "press"],
      ["Time", "1min", 2],
      ["Pressure; none for a pause", "0.4psi", 2],
    ],
    command: ["heat", "--substrate", "steel", "--start", "20C", "--air", "68F", "--pad", "5in", "--orbit", "15mm@4000", "--step", "60s:3kPa", "--step", "30s:pause", "--step", "1min:0.4psi"],
    facts: ["segments.2.peak.panelC", "segments.2.headroomK", "used.ceilingC"],
  },
  {
    id: "blend",
    steps: [
      ["Wanted strength", "30%"],
      ["Wanted volume", "500ml"],
      ["Strength", "70%"],
      ["Strength", "20%", 1],
    ],
    command: ["blend", "70%", "20%", "--target", "30%", "--total", "500ml"],
    facts: ["parts.0.volumeMl", "parts.1.volumeMl", "percent", "totalMl"],
  },
  {
    id: "removal",
    steps: [
      ["Readings before", "112 114 111um"],
      ["Readings after", "108um 109um 4.25mil"],
    ],
    command: ["call", "CalculatorService/MeasureRemoval", '{"before":[{"readings_um":[112,114,111]}],"after":[{"readings_um":[108,109,107.95]}]}'],
    facts: ["removalUm", "lowUm", "highUm"],
  },
];

test.each(CASES)("$id: $command", async ({ id, steps, command, facts }) => {
  const { page } = window;
  await page.goto(`/bench/${id}?units=metric`);
  for (const step of steps) await take(page, step);
  await page.getByRole("button", { name: "Work it out" }).press("Enter");
  await page.waitForSelector("[data-outcome=answer], [data-outcome=refused]");
  const typed = await answerOf(page);
  const told = await daemon.lamella(...command);
  for (const path of facts) expect(Object.keys(typed)).toContain(path);
  for (const [path, value] of Object.entries(typed)) {
    const same = at(told, path);
    expect(Math.abs(value - same), `${path}: page ${value}, command ${same}`).toBeLessThanOrEqual(1e-9 * Math.max(1, Math.abs(same)));
  }
  expect(await page.locator(".answer .caution").evaluateAll((all) => all.map((each) => each.getAttribute("data-code")).sort())).toEqual(
    ((told as { cautions?: { code: string }[] }).cautions ?? []).map(({ code }) => code).sort(),
  );
  // The address alone leads to the same answer.
  const address = page.url();
  await page.goto("/bench");
  await page.goto(address);
  await page.waitForSelector("[data-outcome=answer]");
  expect(await answerOf(page)).toEqual(typed);
});

test("what cannot be read is told at its input, and the daemon's refusals in its words", async () => {
  const { page } = window;
  await page.goto("/bench/dilute?stock=91%25&total=1000&target=40:60");
  await page.waitForSelector(".fault");
  expect(await page.getByLabel("Wanted volume").getAttribute("aria-invalid")).toBe("true");
  expect(await page.locator(".fault").innerText()).toBe("Add a unit: 1000ml or 1000floz.");
  await page.waitForFunction(() => document.activeElement?.id === "in-total");
  await page.getByLabel("Wanted volume").fill("1000ml");
  await page.keyboard.press("Enter");
  await page.waitForSelector("[data-outcome=refused]");
  expect(await page.locator(".refused").innerText()).toContain("target");
});

test("targets are big enough for a glove", async () => {
  const { page } = window;
  for (const path of ["/bench", "/bench/film?piece.w=1m&piece.h=1m&piece.w=1m&piece.h=1m&roll.w=60in", "/bench/advise"]) {
    await page.goto(path);
    await page.waitForSelector(".bench");
    const small = await page
      .locator("main :is(a, button, input:not([type=checkbox]), select, summary, .check label)")
      .evaluateAll((all) =>
        all
          .map((each) => ({ what: each.outerHTML.slice(0, 80), box: each.getBoundingClientRect() }))
          // What is folded away or not shown at this width has no box.
          .filter(({ box }) => box.width > 0 && box.height > 0 && (box.height < 48 || box.width < 48)),
      );
    expect(small.map(({ what, box }) => `${what} ${box.width} × ${box.height}`)).toEqual([]);
  }
});

test("nothing was against the policy, nothing went elsewhere, nothing is written into the page as text", () => {
  expect(window.faults).toEqual([]);
  expect(window.foreign).toEqual([]);
  expect(readFileSync("dist/index.html", "utf8")).not.toMatch(/<style|style=|<script(?![^>]*\ssrc=)/);
});

async function take(page: Page, [label, text, row = 0]: Step): Promise<void> {
  if (text === "press") return page.getByRole("button", { name: label, exact: true }).press("Enter");
  if (text === "open") return page.getByText(label, { exact: true }).click();
  const input = page.getByLabel(new RegExp(`^${label.replace(/[.*+?^${}()|[\]\\/]/g, "\\$&")}( optional)?$`)).nth(row);
  if (text === true) return input.check();
  if ((await input.evaluate((element) => element.tagName)) === "SELECT") await input.selectOption({ label: text });
  else await input.fill(text);
}

/** The figures on show, by their path. */
function answerOf(page: Page): Promise<Record<string, number>> {
  return page.locator("[data-fact]").evaluateAll((all) =>
    Object.fromEntries(all.map((each) => [each.getAttribute("data-fact") ?? "", Number((each as HTMLDataElement).value)])),
  );
}

/** A figure of the command's JSON; canonical JSON leaves zeros out. */
function at(value: unknown, path: string): number {
  let found: unknown = value;
  for (const key of path.split(".")) found = (found as Record<string, unknown> | undefined)?.[key];
  return Number(found ?? 0);
}
