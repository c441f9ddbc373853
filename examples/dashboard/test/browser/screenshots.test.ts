/** Every page at the widths of a phone, a desk and a wall, in light and in dark, looked at by axe and kept as a picture. */
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

import { connect } from "@lamella/client";
import type { Browser, Page } from "playwright-core";
import sharp from "sharp";
import { afterAll, beforeAll, describe, expect, test } from "vitest";

import { Daemon, launch, open } from "./harness.js";
import { heicPicture, panelPicture } from "./pictures.js";
import { seedShop } from "./seed.js";

const axeSource = readFileSync("node_modules/axe-core/axe.min.js", "utf8");

/** A day in the bay, with the air as its logger wrote it. */
const LOG = `time,temperature,rh
${Array.from({ length: 8 }, (_, hour) => `2026-03-02T${String(8 + hour).padStart(2, "0")}:00,${(16 + 3 * Math.sin(hour / 3)).toFixed(1)}C,${58 - hour}%`).join("\n")}`;
const FORECAST = "time,temperature,rh\n2026-03-02T22:00,13C,60%\n2026-03-03T06:00,10C,66%\n2026-03-03T15:00,19C,52%\n2026-03-03T22:00,14C,58%";

/** Pages with what must be there before they are looked at. */
const PAGES: readonly { name: string; path: string; from?: string; ready: (page: Page) => Promise<unknown> }[] = [
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
    path: "/bench/film?margin=25mm&gap=5mm&rotate=1&piece.name=Bumper&piece.w=1650mm&piece.h=420mm&piece.n=1&piece.wrap=15mm&piece.name=Mirror&piece.w=10in&piece.h=8in&piece.n=2&piece.wrap=0 0 10 10mm&piece.name=Sill&piece.w=1200mm&piece.h=140mm&piece.n=2&piece.wrap=&shape.name=Wing&shape.n=2&shape.corners=0,0; 600,0; 600,400; 0,350mm&shape.wrap=15mm&roll.name=wide&roll.w=60in&roll.l=&roll.film=&roll.name=offcut&roll.w=760mm&roll.l=2m&roll.film=",
    ready: (page) => page.waitForSelector(".layout svg"),
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
  {
    name: "bench-paint",
    path: "/bench/paint?floor=30um&spot.panel=hood&spot.of=1&spot.finish=&spot.name=front&spot.values=4.2 4.4 4.3mil&spot.panel=hood&spot.of=&spot.finish=&spot.name=rear&spot.values=104 103 131 105um&spot.panel=door&spot.of=2&spot.finish=&spot.name=&spot.values=214 220 217um&spot.panel=wing&spot.of=1&spot.finish=&spot.name=&spot.values=128 131 127um",
    ready: (page) => page.waitForSelector(".chart canvas[width]"),
  },
  {
    name: "bench-cure",
    path: `/bench/cure?product=two-year coating&dry=10h&wash=7d&ea=60&applied=2026-03-02T11:00&recoat-from=1h&recoat-by=4h&panel-within=2K&rate-within=20%25&lamp.from=30min&lamp.to=1h&lamp.panel=50C&log=${encodeURIComponent(LOG)}&forecast=${encodeURIComponent(FORECAST)}`,
    ready: (page) => page.waitForSelector(".chart canvas[width]"),
  },
  {
    name: "bench-ladder",
    path: "/bench/advise?substrate=1&clear=1.8mil&goal=1&defect=1.5um&clear-sd=3um&rung.machine=random orbital@1&rung.pad=soft pad@1&rung.liquid=fine polish@1&rung.speed=2&rung.pressure=2kPa&rung.time=30s&rung.machine=random orbital@1&rung.pad=soft pad@1&rung.liquid=fine polish@1&rung.speed=3&rung.pressure=2kPa&rung.time=30s&pass.rung=1&pass.panel=27C&pass.outcome=3&pass.removal=0.3um&pass.start=22C",
    ready: (page) => page.waitForSelector("[data-outcome=answer]"),
  },
  {
    name: "bench-dilute-all",
    path: "/bench/dilute?stock=100%25&target=1%2B9&total=1l&density=1.2&stock-ph=13&price=24.99EUR&price-volume=5l&label=Wheel cleaner&mixed=2026-03-02&part.name=alkali&part.percent=8%25&part.ph=&part.small=&part.class=1 3",
    ready: (page) => page.waitForSelector("[data-outcome=answer]"),
  },
  {
    name: "bench-removal",
    path: "/bench/removal?spot.name=front&spot.before=112 114 111um&spot.after=108 109 108um&spot.name=rear&spot.before=120 121 119um&spot.after=115 116um",
    ready: (page) => page.waitForSelector("[data-outcome=answer]"),
  },
  {
    name: "job-photos",
    path: "/jobs/blue-estate",
    from: ".photos",
    ready: async (page) => {
      await page.waitForSelector(".photos");
      for (const photo of await page.locator(".photo").all()) await photo.scrollIntoViewIfNeeded();
      await page.waitForFunction(() => document.querySelectorAll('.photo[data-picture="shown"]').length === 3);
    },
  },
  { name: "job-booked", path: "/jobs/BOOKED", ready: (page) => page.waitForSelector(".booking") },
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
let dir: string;
/** A job that a booking made. */
let booked: string;

beforeAll(async () => {
  daemon = await Daemon.start();
  await daemon.installPrices();
  await daemon.installProducts();
  await seedShop(connect(daemon.address), Date.now());
  dir = mkdtempSync(join(tmpdir(), "lamella-pictures-"));
  await photograph();
  booked = await book();
  browser = await launch();
});
afterAll(async () => {
  await browser.close();
  await daemon.remove();
  rmSync(dir, { recursive: true, force: true });
});

/** What the shop took of its blue estate. */
async function photograph(): Promise<void> {
  const photos = [
    [await panelPicture(dir, "arrival.jpg", "#123a6b", 90), "--panel", "hood", "--moment", "before", "--caption", "swirls under the lamp"],
    [await panelPicture(dir, "roof.jpg", "#123a6b", 40, { width: 900, height: 1200 }), "--panel", "roof", "--moment", "before"],
    [heicPicture(dir, "phone.heic"), "--moment", "before", "--caption", "from the owner’s phone"],
    [await panelPicture(dir, "done.jpg", "#123a6b", 0), "--panel", "hood", "--moment", "after", "--caption", "after two passes"],
  ] as const;
  for (const [{ path }, ...rest] of photos) await daemon.lamella("photo", "add", "blue-estate", path, ...rest);
}

async function book(): Promise<string> {
  const day = (days: number, time: string) => `${new Date(Date.now() + days * 86_400_000).toISOString().slice(0, 10)}T${time}:00Z`;
  const upsert = (revision: string, wishes: string, promise: string) =>
    daemon.lamella(
      ...["booking", "upsert", "web-form", "A-17", "--revision", revision, "--at", day(-2 + Number(revision), "10:00"), "--name", "Copper hatchback"],
      ...["--arrives", day(6, "08:00"), "--promise", promise, "--wishes", wishes],
    );
  const told = (await upsert("0", "Stone chips on the front, film if it pays.", day(8, "16:00"))) as { booking: { job: string } };
  await daemon.lamella("job", "update", told.booking.job, "--promise", day(9, "11:00"));
  await upsert("1", "Stone chips on the front; film on front and mirrors.", day(8, "12:00"));
  return told.booking.job;
}

describe.each(["light", "dark"] as const)("%s", (colorScheme) => {
  test.each(SIZES)("$width px: nothing serious for axe, nothing wider than the screen", async ({ width, height, touch }) => {
    const { page, context, faults, foreign } = await open(browser, daemon.address, {
      viewport: { width, height },
      colorScheme,
      hasTouch: touch,
      reducedMotion: "reduce",
    });
    const found: string[] = [];
    for (const { name, path, from, ready } of PAGES) {
      await page.goto(path.replace("jobs/BOOKED", booked));
      await ready(page);
      await page.waitForSelector("[data-link=live]");
      const kept = KEPT.has(name) ? "screenshots" : process.env["LAMELLA_EXTRA_SCREENSHOTS"];
      if (kept !== undefined) {
        // A wall shows what fits on it; a phone is scrolled, but not for ever.
        const y = from === undefined ? 0 : await page.locator(from).first().evaluate((each) => each.getBoundingClientRect().top + scrollY);
        const tall = name === "board" && width === 1920 ? height : Math.min(1800, (await page.evaluate(() => document.body.scrollHeight)) - y);
        const picture = await page.screenshot({ clip: { x: 0, y, width, height: tall }, fullPage: true });
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
