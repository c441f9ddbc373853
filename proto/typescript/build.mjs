// Generates the client from ../lamella/v1 and compiles it: `npm install` and
// `npm pack` run this as `prepare`. A new proto file or service needs nothing here.

import { spawnSync } from "node:child_process";
import { existsSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { delimiter, dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const gen = join(here, "src", "gen");

// npm links a folder that lies outside of the installing project without its
// dependencies, and runs `prepare` all the same. No scripts: this one runs already.
if (missing().length > 0) {
  console.log(`installing ${missing().join(", ")}`);
  run("npm", "install", "--ignore-scripts", "--include=dev", "--no-audit", "--no-fund");
}
for (const made of ["dist", "src/gen", "src/standard"]) {
  rmSync(join(here, made), { recursive: true, force: true });
}
run("buf", "generate");
run("buf", "generate", "--template", "buf.gen.standard.yaml");
writeFileSync(join(gen, "index.ts"), index(modules()));
run("tsc", "--project", ".");

/** What package.json asks for and no node_modules on the way up has. */
function missing() {
  const { dependencies, devDependencies } = JSON.parse(readFileSync(join(here, "package.json"), "utf8"));
  return Object.keys({ ...dependencies, ...devDependencies }).filter((name) => !isInstalled(name, here));
}

function isInstalled(name, folder) {
  const above = dirname(folder);
  return existsSync(join(folder, "node_modules", name)) || (above !== folder && isInstalled(name, above));
}

/** Runs a program of node_modules/.bin; npm has put those further up on the path. */
function run(program, ...args) {
  const { status, error } = spawnSync(program, args, {
    cwd: here,
    env: { ...process.env, PATH: join(here, "node_modules", ".bin") + delimiter + process.env.PATH },
    shell: process.platform === "win32",
    stdio: "inherit",
  });
  if (error !== undefined) {
    console.error(`${program} cannot be run: ${error.message}`);
  }
  if (status !== 0) {
    process.exit(status ?? 1);
  }
}

/** The generated modules, each with the services that it defines. */
function modules() {
  const folder = join(gen, "lamella", "v1");
  return readdirSync(folder)
    .sort()
    .map((file) => ({
      path: `./lamella/v1/${file.replace(/\.ts$/, ".js")}`,
      services: Array.from(
        readFileSync(join(folder, file), "utf8").matchAll(/^export const (\w+): GenService</gm),
        (match) => match[1],
      ),
    }));
}

/** One module with everything, and a table of the services by their short name. */
function index(modules) {
  const services = modules.flatMap((module) => module.services);
  return [
    "// Written by build.mjs.",
    ...modules.map(({ path }) => `export * from "${path}";`),
    ...modules
      .filter((module) => module.services.length > 0)
      .map((module) => `import { ${module.services.join(", ")} } from "${module.path}";`),
    "/** The services by the names that a client has for them. */",
    "export const services = {",
    ...services.map((service) => `  ${shortName(service)}: ${service},`),
    "} as const;",
    "",
  ].join("\n");
}

/** `JobService` is `job`. */
function shortName(service) {
  const short = service.replace(/Service$/, "");
  return short.charAt(0).toLowerCase() + short.slice(1);
}
