// Builds the page into dist/, with a compressed copy beside each file that is
// worth it: the daemon sends what it finds and compresses nothing by itself.
import { readdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { brotliCompressSync, constants, gzipSync } from "node:zlib";
import type { Plugin } from "vite";
import { defineConfig } from "vitest/config";

/** Smaller files gain nothing. */
const WORTH_IT_BYTES = 512;

function compressed(): Plugin {
  let outDir = "";
  return {
    name: "compressed-copies",
    apply: "build",
    configResolved(config) {
      outDir = config.build.outDir;
    },
    closeBundle() {
      for (const name of readdirSync(outDir, { recursive: true, encoding: "utf8" })) {
        const path = join(outDir, name);
        if (!/\.(js|css|html|svg)$/.test(name) || statSync(path).size < WORTH_IT_BYTES) continue;
        const bytes = readFileSync(path);
        writeFileSync(`${path}.gz`, gzipSync(bytes, { level: 9 }));
        writeFileSync(`${path}.br`, brotliCompressSync(bytes, { params: { [constants.BROTLI_PARAM_QUALITY]: 11 } }));
      }
    },
  };
}

export default defineConfig({
  plugins: [compressed()],
  // `npm run dev` beside a daemon on its default port: calls go through, with the name it knows.
  server: { proxy: { "/lamella.v1.": { target: "http://127.0.0.1:7575", changeOrigin: true } } },
  build: {
    target: "es2022",
    // A data: URL would be an asset that the policy on styles and scripts refuses.
    assetsInlineLimit: 0,
    // Its loader is an inline script in disguise; every browser that runs ES2022 has it built in.
    modulePreload: { polyfill: false },
  },
  test: { include: ["test/unit/**/*.test.ts"] },
});
