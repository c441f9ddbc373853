/** The real daemon, the real client, a real browser. */
import { type ChildProcess, execFile, spawn } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { createInterface } from "node:readline";
import { promisify } from "node:util";

import { type Browser, type BrowserContext, chromium, type Page } from "playwright-core";

const bin = process.env["LAMELLA_BIN_DIR"] ?? resolve("../../target/debug");

/** How the invented shop reckons money. */
const CONFIG = `
[money]
currency = "EUR"

[[money.tax_classes]]
name = "standard"
rate_percent = "19.0"
`;

/** A running daemon that serves the built page. */
export class Daemon {
  private constructor(
    private readonly child: ChildProcess,
    /** Where it keeps everything. */
    readonly dataDir: string,
    /** `127.0.0.1:PORT`. */
    readonly address: string,
  ) {}

  /** Starts one; on the directory and address of an earlier one to go on from it. */
  static async start(dataDir = mkdtempSync(join(tmpdir(), "lamella-dashboard-")), listen = "127.0.0.1:0"): Promise<Daemon> {
    const config = join(dataDir, "test.toml");
    writeFileSync(config, CONFIG);
    const flags = ["--config", config, "--data-dir", join(dataDir, "data"), "--listen", listen, "--web-root", "dist", "--log", "warn"];
    const child = spawn(join(bin, "lamellad"), flags, { stdio: ["ignore", "inherit", "pipe"] });
    const address = await new Promise<string>((ready, failed) => {
      createInterface({ input: child.stderr as NodeJS.ReadableStream }).on("line", (line) => {
        const found = /^ready address=(\S+)/.exec(line);
        if (found?.[1] !== undefined) ready(found[1]);
      });
      child.once("error", failed);
      child.once("exit", (code) => failed(new Error(`lamellad ended with ${code} before it was ready`)));
    });
    return new Daemon(child, dataDir, address);
  }

  /** Kills it at once and starts another on the same data and port. */
  async killAndRestart(between: () => Promise<void> = async () => {}): Promise<Daemon> {
    await this.end("SIGKILL");
    await between();
    return Daemon.start(this.dataDir, this.address);
  }

  /** Stops it and removes its data. */
  async remove(): Promise<void> {
    await this.end("SIGTERM");
    rmSync(this.dataDir, { recursive: true, force: true });
  }

  /** Installs the sample price rule. */
  async installPrices(): Promise<void> {
    await this.lamella("--timeout", "60s", "plugin", "install", "--id", "tiered-pricing", "../../plugins/prebuilt/tiered-pricing.wasm");
    await this.lamella("--timeout", "60s", "plugin", "enable", "tiered-pricing");
  }

  /** Installs the sample product list. */
  async installProducts(): Promise<void> {
    await this.lamella("--timeout", "60s", "plugin", "install", "--id", "workshop-products", "../../plugins/prebuilt/workshop-products.wasm");
    await this.lamella("--timeout", "60s", "plugin", "enable", "workshop-products");
  }

  /** Runs the client; JSON where it prints some. */
  async lamella(...args: readonly string[]): Promise<unknown> {
    const { stdout } = await promisify(execFile)(join(bin, "lamella"), ["--server", this.address, "--output", "json", ...args], {
      maxBuffer: 64 << 20,
    });
    return stdout.trim() === "" ? null : JSON.parse(stdout);
  }

  private async end(signal: NodeJS.Signals): Promise<void> {
    const ended = new Promise((done) => this.child.once("exit", done));
    if (this.child.kill(signal)) await ended;
  }
}

/** Chromium as the system has it. */
export function launch(): Promise<Browser> {
  return chromium.launch({
    executablePath: process.env["CHROMIUM"] ?? "/usr/bin/chromium",
    // Root in a container has no sandbox to drop into.
    chromiumSandbox: process.getuid?.() !== 0,
  });
}

/** What a page must never do. */
export interface Watched {
  readonly page: Page;
  readonly context: BrowserContext;
  /** Violations of the policy, and faults in the page's own script. */
  readonly faults: string[];
  /** Requests that went to anyone but the daemon. */
  readonly foreign: string[];
}

/** A new window whose faults and requests are written down. */
export async function open(browser: Browser, address: string, options: Parameters<Browser["newContext"]>[0] = {}): Promise<Watched> {
  const context = await browser.newContext({ baseURL: `http://${address}`, locale: "en-GB", timezoneId: "Europe/Berlin", ...options });
  const page = await context.newPage();
  const watched: Watched = { page, context, faults: [], foreign: [] };
  page.on("pageerror", (error) => watched.faults.push(String(error)));
  page.on("console", (message) => {
    if (/Content Security Policy/i.test(message.text())) watched.faults.push(message.text());
  });
  page.on("request", (request) => {
    const url = new URL(request.url());
    if (url.host !== address && url.protocol.startsWith("http")) watched.foreign.push(request.url());
  });
  return watched;
}
