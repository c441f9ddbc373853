/** What a job page shows besides figures: photos byte for byte, and the booking that the job came from. */
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, expect, test } from "vitest";

import { Daemon, launch, open, type Watched } from "./harness.js";
import { heicPicture, panelPicture, sha256 } from "./pictures.js";

let daemon: Daemon;
let browser: Browser;
let window: Watched;
let page: Page;
let dir: string;
let downloads = 0;

beforeAll(async () => {
  dir = mkdtempSync(join(tmpdir(), "lamella-photos-"));
  daemon = await Daemon.start();
  await daemon.lamella("vehicle", "new", "--id", "blue-estate", "Blue estate");
  await daemon.lamella("vehicle", "panel", "blue-estate", "hood", "--substrate", "steel");
  await daemon.lamella("job", "new", "--id", "blue-estate", "Blue estate", "--vehicle", "blue-estate");
  browser = await launch();
  window = await open(browser, daemon.address, { viewport: { width: 1280, height: 600 } });
  page = window.page;
  page.on("request", (request) => {
    if (request.url().endsWith("/DownloadPhoto")) downloads++;
  });
});
afterAll(async () => {
  await browser.close();
  await daemon.remove();
  rmSync(dir, { recursive: true, force: true });
});

interface Stored {
  readonly name: string;
  readonly sha256: string;
}
const add = async (path: string, ...more: string[]): Promise<Stored> => {
  const told = (await daemon.lamella("photo", "add", "blue-estate", path, ...more)) as Stored | { photos: Stored[] };
  const photo = "photos" in told ? told.photos[0] : told;
  if (photo === undefined) throw new Error(`the client told of no photo: ${JSON.stringify(told)}`);
  return photo;
};
const tile = (photo: Stored) => page.locator(`[data-photo="${photo.name}"]`);

test("photos are shown as they are stored", async () => {
  const before = await panelPicture(dir, "before.jpg", "#123a6b", 60);
  const after = await panelPicture(dir, "after.png", "#123a6b", 0, { width: 300, height: 500 });
  const web = await panelPicture(dir, "side.webp", "#123a6b", 5);
  const stored = [
    await add(before.path, "--panel", "hood", "--moment", "before", "--caption", "swirls under the lamp"),
    await add(web.path, "--moment", "during"),
    await add(after.path, "--panel", "hood", "--moment", "after"),
  ];
  await page.goto("/jobs/blue-estate");
  await page.waitForSelector(".photos");
  for (const [index, photo] of stored.entries()) {
    await tile(photo).scrollIntoViewIfNeeded();
    await page.waitForFunction((name) => document.querySelector(`[data-photo="${name}"] img`) !== null, photo.name);
    const shown = await tile(photo).locator("img").evaluate(async (image: HTMLImageElement) => {
      await image.decode();
      return { src: image.src, width: image.naturalWidth, height: image.naturalHeight };
    });
    expect(sha256(Buffer.from(shown.src.slice(shown.src.indexOf(",") + 1), "base64"))).toBe(photo.sha256);
    expect([shown.width, shown.height]).toEqual(index === 2 ? [300, 500] : [1200, 900]);
  }
  expect(await page.locator(".photo img").evaluateAll((all) => all.map((each) => (each as HTMLImageElement).alt))).toEqual([
    "On arrival, hood: swirls under the lamp",
    "During the work, the car",
    "After the work, hood",
  ]);
  await page.getByRole("button", { name: "Larger: swirls under the lamp" }).press("Enter");
  await page.waitForSelector(".photo.large");
});

test("a photo below the fold is not asked for", async () => {
  // So low a window that the photos lie outside of it and of the margin around it.
  const { page: low, context } = await open(browser, daemon.address, { viewport: { width: 1280, height: 200 } });
  let asked = 0;
  low.on("request", (request) => {
    if (request.url().endsWith("/DownloadPhoto")) asked++;
  });
  await low.goto("/jobs/blue-estate");
  await low.waitForSelector(".history li");
  const top = await low.locator(".photo").first().evaluate((each) => each.getBoundingClientRect().top);
  expect(top).toBeGreaterThan(200 + 300);
  expect(asked).toBe(0);
  await low.locator(".photo").first().scrollIntoViewIfNeeded();
  await low.waitForSelector('.photo[data-picture="shown"]');
  expect(asked).toBeGreaterThan(0);
  await context.close();
});

test("a HEIC picture is said to be one, and downloaded as it is", async () => {
  const photo = await add(heicPicture(dir, "phone.heic").path, "--caption", "from a phone", "--moment", "during");
  // It comes without the page being loaded anew.
  await tile(photo).waitFor();
  expect(await tile(photo).innerText()).toContain("HEIC");
  const asked = downloads;
  const [download] = await Promise.all([page.waitForEvent("download"), tile(photo).getByRole("button", { name: "Download: from a phone" }).click()]);
  expect(download.suggestedFilename()).toMatch(/\.heic$/);
  expect(sha256(readFileSync(await download.path()))).toBe(photo.sha256);
  expect(downloads).toBe(asked + 1);
});

test("a photo whose file is damaged is told of in the daemon's words", async () => {
  const photo = await add((await panelPicture(dir, "lost.jpg", "#7a1616", 3)).path, "--moment", "after");
  const files = readdirSync(daemon.dataDir, { recursive: true, encoding: "utf8" }).filter((name) => name.includes(photo.sha256));
  expect(files.length).toBe(1);
  writeFileSync(join(daemon.dataDir, files[0] ?? ""), "not a photo any more");
  await page.goto("/jobs/blue-estate");
  await tile(photo).scrollIntoViewIfNeeded();
  await page.waitForFunction((name) => document.querySelector(`[data-photo="${name}"]`)?.getAttribute("data-picture") === "lost", photo.name);
  expect(await tile(photo).innerText()).toContain("This photo cannot be read");
});

test("the booking that a job came from is on its page, and what the shop has kept against it", async () => {
  const told = (await daemon.lamella(
    ...["booking", "upsert", "web-form", "A-17", "--revision", "0", "--at", "2026-03-01T10:00:00Z", "--name", "Green roadster"],
    ...["--arrives", "2026-03-09T09:00:00+01:00", "--promise", "2026-03-10T17:00:00+01:00", "--wishes", "shine"],
  )) as { booking: { job: string } };
  const { job } = told.booking;
  await page.goto(`/${job}`);
  await page.waitForSelector(".booking");
  const text = () => page.locator(".booking").innerText();
  expect(await text()).toContain("web-form, as A-17");
  expect(await text()).toContain("9 Mar 2026, 09:00");
  expect(await text()).toContain("10 Mar 2026, 17:00");
  await daemon.lamella("job", "update", job, "--wishes", "gloss");
  await daemon.lamella(
    ...["booking", "upsert", "web-form", "A-17", "--revision", "1", "--at", "2026-03-02T10:00:00Z", "--name", "Green roadster"],
    ...["--arrives", "2026-03-09T10:30:00+01:00", "--promise", "2026-03-10T17:00:00+01:00", "--wishes", "mirror finish"],
  );
  await page.reload();
  await page.waitForSelector(".booking");
  expect(await text()).toContain("9 Mar 2026, 10:30");
  expect(await text()).toMatch(/kept for\s+the wishes/);
  // A job that was written down here came from none.
  await page.goto("/jobs/blue-estate");
  await page.waitForSelector(".history li");
  expect(await page.locator(".booking").count()).toBe(0);
});

test("nothing was against the policy and nothing went elsewhere", () => {
  expect(window.faults).toEqual([]);
  expect(window.foreign).toEqual([]);
});
