/** Every page at the widths of a phone, a desk and a wall, in light and in dark, looked at by axe and kept as a picture. */
import { readFileSync } from "node:fs";

import { connect } from "@lamella/client";
import type { Browser, Page } from "playwright-core";
import sharp from "sharp";
import { afterAll, beforeAll, describe, expect, test } from "vitest";

import { Daemon, launch, open } from "./harness.js";
import { seedShop } from "./seed.js";

const axeSource = readFileSync("node_modules/axe-core/axe.min.js", "utf8");

/** Pages with what must be there before they are looked at. */
const PAGES: readonly { name: string; path: string; ready: (page: Page) => Promise<unknown> }[] = [
  {
    name: "board",
    path: "/",
    ready: (page) => page.waitForFunction(() => document.querySelectorAll(".card").length > 0 && document.querySelector(".card-wait.unknown") === null),
  },
  {
    name: "job",
    path: "/jobs/blue-estate",
    ready: async (page) => {
      await page.waitForSelector(".chart canvas[width]");
      await page.waitForSelector(".history li");
    },
  },
  {
    name: "bench-dilute",
    path: "/bench/dilute?stock=91%25&target=35%25&total=32floz&substance=1",
    ready: (page) => page.waitForSelector("[data-outcome=answer]"),
  },
  {
    name: "bench-film",
    path: "/bench/film?margin=25mm&gap=5mm&rotate=1&piece.name=Bumper&piece.w=1650mm&piece.h=420mm&piece.wrap=15mm&piece.n=1&roll.name=wide&roll.w=60in&roll.l=&roll.name=offcut&roll.w=760mm&roll.l=2m",
    ready: (page) => page.waitForSelector("[data-outcome=answer]"),
  },
  {
    name: "bench-advise",
    path: "/bench/advise?substrate=3&ceiling=95F&pass.rung=1&pass.panel=80.6F&pass.outcome=3&pass.removal=&pass.rung=2&pass.panel=95F&pass.outcome=2&pass.removal=",
    ready: (page) => page.waitForSelector("[data-outcome=answer]"),
  },
  {
    name: "bench-heat",
    path: "/bench/heat?substrate=1&start=20C&air=20C&pad=125mm&orbit=15mm&orbits=4000&step.time=60s&step.pressure=3kPa&step.time=30s&step.pressure=&step.time=60s&step.pressure=3kPa",
    ready: async (page) => {
      await page.waitForSelector("[data-outcome=answer]");
      await page.waitForSelector(".chart canvas[width]");
    },
  },
  { name: "bench", path: "/bench", ready: (page) => page.waitForSelector(".tiles") },
];

const SIZES = [
  { width: 390, height: 844, touch: true },
  { width: 1280, height: 800, touch: false },
  { width: 1920, height: 1080, touch: false },
];
/** These are kept in the repository; the others are for the eye of whoever changes the page. */
const KEPT = new Set(["board", "job", "bench-dilute"]);

let daemon: Daemon;
let browser: Browser;

beforeAll(async () => {
  daemon = await Daemon.start();
  await daemon.installPrices();
  await seedShop(connect(daemon.address), Date.now());
  browser = await launch();
});
afterAll(async () => {
  await browser.close();
  await daemon.remove();
});

describe.each(["light", "dark"] as const)("%s", (colorScheme) => {
  test.each(SIZES)("$width px: nothing serious for axe, nothing wider than the screen", async ({ width, height, touch }) => {
    const { page, context, faults, foreign } = await open(browser, daemon.address, {
      viewport: { width, height },
      colorScheme,
      hasTouch: touch,
      reducedMotion: "reduce",
    });
    const found: string[] = [];
    for (const { name, path, ready } of PAGES) {
      await page.goto(path);
      await ready(page);
      await page.waitForSelector("[data-link=live]");
      const kept = KEPT.has(name) ? "screenshots" : process.env["LAMELLA_EXTRA_SCREENSHOTS"];
      if (kept !== undefined) {
        // A wall shows what fits on it; a phone is scrolled, but not for ever.
        const tall = name === "board" && width === 1920 ? height : Math.min(1800, await page.evaluate(() => document.body.scrollHeight));
        const picture = await page.screenshot({ clip: { x: 0, y: 0, width, height: tall }, fullPage: true });
        // Few colours are enough for flat ground and text, and keep the repository small.
        await sharp(picture).png({ palette: true, colours: 48, dither: 0, effort: 10, compressionLevel: 9 }).toFile(`${kept}/${name}-${width}-${colorScheme}.png`);
      }
      // What is folded away is looked at as well.
      await page.evaluate(() => {
        for (const details of document.querySelectorAll("details")) details.open = true;
      });
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      if (wide > 0) found.push(`${name}: ${wide} px wider than the screen`);
      found.push(...(await axe(page)).map((problem) => `${name}: ${problem}`));
    }
    await context.close();
    expect(found).toEqual([]);
    expect(faults).toEqual([]);
    expect(foreign).toEqual([]);
  });
});

/** What axe finds serious or critical, with where. */
async function axe(page: Page): Promise<string[]> {
  // Run through the debugger, since the page's policy lets no other script in.
  await page.evaluate(axeSource);
  return page.evaluate(async () => {
    const { axe } = globalThis as unknown as { axe: { run(): Promise<AxeResults> } };
    interface AxeResults {
      violations: { id: string; impact: string | null; nodes: { target: unknown[]; failureSummary?: string }[] }[];
    }
    const { violations } = await axe.run();
    return violations
      .filter(({ impact }) => impact === "serious" || impact === "critical")
      .flatMap(({ id, nodes }) => nodes.map(({ target, failureSummary }) => `${id} ${target.join(" ")}: ${failureSummary?.split("\n")[1] ?? ""}`));
  });
}
