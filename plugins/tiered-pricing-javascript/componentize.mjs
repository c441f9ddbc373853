// Makes the component: node componentize.mjs WIT_DIR OUT.wasm
//
// With every optional feature left out (clocks, random, network, standard streams) it
// imports nothing but the contract, so it runs without WASI.
import { componentize } from '@bytecodealliance/componentize-js';
import { writeFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';

const [witPath, out] = process.argv.slice(2);
if (!witPath || !out) {
  console.error('usage: node componentize.mjs WIT_DIR OUT.wasm');
  process.exit(2);
}
const { component, imports } = await componentize({
  sourcePath: fileURLToPath(new URL('plugin.js', import.meta.url)),
  witPath,
  worldName: 'pricing',
  disableFeatures: ['stdio', 'random', 'clocks', 'http', 'fetch-event'],
});
await writeFile(out, component);
console.error(`imports of ${out}: ${JSON.stringify(imports)}`);
