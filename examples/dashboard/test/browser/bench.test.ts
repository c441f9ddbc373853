/** Every form gives the answer of the lamella command, typed in by keyboard as a person would. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

import { CalculatorService } from "@lamella/client";
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, expect, test } from "vitest";

import type { Case, Step } from "./cases/case.js";
import { COAT } from "./cases/coat.js";
import { CORRECT } from "./cases/correct.js";
import { FILM } from "./cases/film.js";
import { LIQUIDS } from "./cases/liquids.js";
import { Daemon, launch, open, type Watched } from "./harness.js";

let daemon: Daemon;
let browser: Browser;
let window: Watched;
let files: string;
beforeAll(async () => {
  daemon = await Daemon.start();
  await daemon.installProducts();
  files = mkdtempSync(join(tmpdir(), "lamella-bench-"));
  browser = await launch();
  window = await open(browser, daemon.address, { viewport: { width: 1280, height: 900 } });
  window.page.on("request", (request) => {
    const rpc = /\/lamella\.v1\.CalculatorService\/(\w+)$/.exec(request.url())?.[1];
    if (rpc !== undefined) asked.add(rpc);
  });
});
afterAll(async () => {
  await browser.close();
  await daemon.remove();
  rmSync(files, { recursive: true, force: true });
});

/** Every form, one after another. */
const CASES: readonly Case[] = [...LIQUIDS, ...FILM, ...COAT, ...CORRECT];
/** What the page asked the calculators, by the name of the RPC. */
const asked = new Set<string>();

test.each(CASES)("$id: $command", async ({ id, steps, command, facts, shown }) => {
  const { page } = window;
  await page.goto(`/bench/${id}?units=metric`);
  for (const step of steps) await take(page, step);
  await page.getByRole("button", { name: "Work it out" }).press("Enter");
  await page.waitForSelector("[data-outcome=answer], [data-outcome=refused], .fault");
  expect(await page.locator(".refused, .fault").allInnerTexts()).toEqual([]);
  const typed = await answerOf(page);
  const told = await daemon.lamella(...command.map(written));
  for (const path of facts) expect(Object.keys(typed)).toContain(path);
  for (const [path, value] of Object.entries(typed)) {
    const same = at(told, path);
    expect(Math.abs(value - same), `${path}: page ${value}, command ${same}`).toBeLessThanOrEqual(1e-9 * Math.max(1, Math.abs(same)));
  }
  expect(await page.locator(".answer .caution").evaluateAll((all) => all.map((each) => each.getAttribute("data-code")).sort())).toEqual(cautionsIn(told));
  // What is folded away is on the page, too.
  const text = ((await page.locator(".answer").textContent()) ?? "").replace(/\s+/g, " ");
  for (const words of shown?.(told as never) ?? []) expect(text).toContain(words);
  // The address alone leads to the same answer.
  const address = page.url();
  await page.goto("/bench");
  await page.goto(address);
  await page.waitForSelector("[data-outcome=answer]");
  expect(await answerOf(page)).toEqual(typed);
});

test("every RPC of the calculators has a form that asks it", async () => {
  await window.page.goto("/bench");
  const tiles = await window.page.locator(".tiles a").evaluateAll((all) => all.map((each) => each.getAttribute("href")?.split("/").pop()).sort());
  expect([...new Set(CASES.map(({ id }) => id))].sort()).toEqual(tiles);
  expect([...asked].sort()).toEqual(CalculatorService.methods.map(({ name }) => name).sort());
});

test("pieces are drawn where the daemon laid them", async () => {
  const { page } = window;
  await page.goto("/bench/film?margin=10mm&rotate=1&piece.name=hood&piece.w=900mm&piece.h=400mm&piece.n=3&piece.wrap=&roll.name=main&roll.w=60in&roll.l=&roll.film=");
  await page.waitForSelector(".layout svg");
  const told = (await daemon.lamella("film", "--piece", "hood*3=900mmx400mm", "--roll", "main=60in", "--margin", "10mm", "--may-rotate")) as {
    layouts: { lengthToPullMm: number; placements: { xMm?: number; yMm?: number; widthMm: number; heightMm: number }[] }[];
  };
  const [layout] = told.layouts;
  const drawn = await page.locator(".layout svg").evaluate((svg) => ({
    width: svg.getBoundingClientRect().width,
    blanks: [...svg.querySelectorAll(".blank")].map((blank) => ["x", "y", "width", "height"].map((name) => Number(blank.getAttribute(name)))),
  }));
  expect(drawn.blanks.length).toBe(3);
  const scale = drawn.width / (layout?.lengthToPullMm ?? Number.NaN);
  for (const [index, place] of (layout?.placements ?? []).entries()) {
    // The pull runs to the right; a blank is drawn a pixel smaller on every side.
    const wanted = [(place.yMm ?? 0) * scale + 1, (place.xMm ?? 0) * scale + 1, place.heightMm * scale - 2, place.widthMm * scale - 2];
    for (const [part, value] of wanted.entries()) expect(drawn.blanks[index]?.[part]).toBeCloseTo(value, 0);
  }
});

test("a log is taken from a file, and what is wrong with one is told with its line", async () => {
  const { page } = window;
  await page.goto("/bench/cure?product=x&dry=12h&log=time");
  await page.waitForFunction(() => document.activeElement?.id === "in-log");
  expect(await page.locator(".fault").innerText()).toContain("The first line must name the columns");
  const log = "time,temperature,rh\n2026-03-02T10:00:00Z,20C,50%\n2026-03-02T11:00:00Z,68F,50%\n";
  const choose = async (content: string) => {
    await page.locator("#in-log-file").setInputFiles({ name: "bay.csv", mimeType: "text/csv", buffer: Buffer.from(content) });
    await page.waitForFunction((content) => document.querySelector<HTMLTextAreaElement>("#in-log")?.value === content, content);
    await page.getByRole("button", { name: "Work it out" }).press("Enter");
  };
  await choose(log);
  await page.waitForFunction(() => document.querySelector(".fault")?.textContent?.startsWith("Line 3: the unit changes"));
  await choose(log.replace("68F", "21C"));
  await page.waitForSelector("[data-outcome=answer]");
  expect(await page.locator(".not-linked").count()).toBe(0);
  // A day logged by the minute is worked out, and said to be too long for a link.
  const minutes = Array.from({ length: 1440 }, (_, minute) => `${new Date(Date.UTC(2026, 2, 2, 0, minute)).toISOString()},${(18 + 3 * Math.sin(minute / 229)).toFixed(2)}C`);
  const day = `time,temperature\n${minutes.join("\n")}\n`;
  await choose(day);
  await page.waitForSelector("[data-outcome=answer] .not-linked");
  const told = await daemon.lamella("cure", "--product", "x", "--dry", "12h", "--log", written({ file: day }, 0));
  const typed = await answerOf(page);
  expect(typed["milestones.0.afterHours"]).toBeCloseTo(at(told, "milestones.0.afterHours"), 9);
  expect(page.url().length).toBeLessThan(1000);
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
  for (const path of ["/bench", "/bench/film?piece.w=1m&piece.h=1m&piece.w=1m&piece.h=1m&roll.w=60in", "/bench/advise", "/bench/cure?log=time", "/bench/paint?principles=1"]) {
    await page.goto(path);
    await page.waitForSelector(".bench");
    const small = await page
      .locator("main :is(a, button, input:not([type=checkbox], .hidden), select, textarea, .file, summary, .check label)")
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
  if (text === "open") return page.locator("summary").and(page.getByText(label, { exact: true })).press("Enter");
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

/** A member of a command; a file is written first. */
function written(member: Case["command"][number], index: number): string {
  if (typeof member === "string") return member;
  const path = join(files, `${index}.csv`);
  writeFileSync(path, member.file);
  return path;
}

/** The codes of an answer's cautions, each text once, as a person should read them. */
function cautionsIn(told: unknown): string[] {
  const { cautions = [], panels = [] } = told as { cautions?: Told[]; panels?: { panel: string; cautions?: Told[] }[] };
  const all = [...cautions.map((each) => ["", each] as const), ...panels.flatMap(({ panel, cautions: own = [] }) => own.map((each) => [panel, each] as const))];
  return [...new Map(all.map(([panel, { code, text }]) => [`${panel} ${code} ${text}`, code])).values()].sort();
}
interface Told {
  readonly code: string;
  readonly text: string;
}

/** A figure of the command's JSON; canonical JSON leaves zeros out. */
function at(value: unknown, path: string): number {
  let found: unknown = value;
  for (const key of path.split(".")) found = (found as Record<string, unknown> | undefined)?.[key];
  return Number(found ?? 0);
}
