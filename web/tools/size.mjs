// SPDX-License-Identifier: Apache-2.0
// Fails when what the first view fetches is over 200 kB, compressed as it travels.                         Layer: web, tools
import { readFileSync, readdirSync } from 'node:fs';
import { gzipSync } from 'node:zlib';

const dist = new URL('../dist/', import.meta.url);
const most_bytes = 200_000;
const html = readFileSync(new URL('index.html', dist), 'utf8');
const seen = new Set();
const sizes = [['index.html', gzipSync(html).length]];
// A file and what it imports as it starts; pages come in by import() from the first script, so the stand is added by name.
function take(name) {
  if (seen.has(name)) return;
  seen.add(name);
  const bytes = readFileSync(new URL(name, dist));
  sizes.push([name, name.endsWith('.woff2') ? bytes.length : gzipSync(bytes).length]);
  if (!name.endsWith('.js')) return;
  for (const [, other] of bytes.toString().matchAll(/(?:from|import)\s*"\.\/([^"]+)"/g)) take(`assets/${other}`);
}
for (const [, name] of html.matchAll(/(?:src|href)="\/(assets\/[^"]+)"/g)) take(name);
for (const name of readdirSync(new URL('assets/', dist))) if (/^(Stand-.*\.js|inter-.*\.woff2)$/.test(name)) take(`assets/${name}`);
const all = sizes.reduce((s, [, n]) => s + n, 0);
for (const [name, n] of sizes.sort((a, b) => b[1] - a[1])) console.log(`${String(n).padStart(8)}  ${name}`);
console.log(`${String(all).padStart(8)}  first view, compressed; at most ${most_bytes}`);
if (all > most_bytes) process.exit(1);
