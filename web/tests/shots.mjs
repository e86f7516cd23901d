// SPDX-License-Identifier: Apache-2.0
// Pictures of every page, light and dark, phone and desk, for people to look at.                           Layer: web, tests
//   node tests/shots.mjs [DIR] [WORD]     into web/shots; WORD: only pictures whose name has it, as ride-phone or desk-dark
import { randomUUID } from 'node:crypto';
import { mkdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';
import { asked, browser_path, demo_ride, open_service } from './service.mjs';

const [dir = fileURLToPath(new URL('../shots', import.meta.url)), only = ''] = process.argv.slice(2);
mkdirSync(dir, { recursive: true });
const service = await open_service();
const url = service.url;
const browser = await chromium.launch({ executablePath: browser_path, args: ['--no-sandbox'] });
const probe = await browser.newPage();
probe.setDefaultTimeout(120_000);   // a machine may be busy with other things
await probe.goto(url);
await probe.getByText('No bike yet').waitFor();
await probe.screenshot({ path: `${dir}/stand-empty.png`, fullPage: true });
await probe.getByRole('button', { name: 'The invented bikes' }).click();
await probe.locator('.stand-list li').nth(4).waitFor();
const bikes = (await asked(probe, '/stand')).bikes;
const trail = bikes.find((b) => b.kind === 'trail' && !b.verdict.do_not_ride);
await probe.goto(`${url}#/bike/${trail.id}`);
await probe.locator('#ride-file').setInputFiles(demo_ride);
await probe.locator('[data-figure="riding-left"] svg').waitFor({ timeout: 120_000 });
const full = [];
for (const b of bikes) full.push(await asked(probe, `/bikes/${b.id}`));
const held = full.find((b) => b.verdict.do_not_ride || b.held), plain = full.find((b) => b.id === trail.id) ?? full[0];
// A turn read with a dial: a seat that tilts and two bends, invented.
const angles_deg = Array.from({ length: 24 }, (_, i) => 15 * i), away = (a, b) => Math.min(Math.abs(a - b), 360 - Math.abs(a - b));
const values = angles_deg.map((a) => Math.round(100 * (0.05 * Math.cos(((a - 70) * Math.PI) / 180) + 0.16 * Math.exp(-((away(a, 200) / 22) ** 2)) - 0.12 * Math.exp(-((away(a, 310) / 20) ** 2)))) / 100);
await asked(probe, `/bikes/${(plain ?? trail).id}/readings`, { method: 'POST', type: 'application/json', body: JSON.stringify({ place: 'front', quantity: 'run_out', by: 'Ada', entry_id: randomUUID(), values, angles_deg }) });
await probe.close();
const ride = plain?.rides.find((r) => !r.described);
let failed = false;
const pages = [
  ['stand', '#/', async (p) => p.locator('.stand-list li').nth(4).waitFor({ timeout: 60000 })], ['add', '#/add'],
  ['six', '#/six', async (p) => { for (const t of ['Trail', '95', '180', 'Sintered', '3,4', 'Mountain']) { if (/^\d/.test(t)) { await p.locator('.big-number').fill(t); await p.getByRole('button', { name: 'Next' }).click(); } else await p.getByRole('button', { name: new RegExp(`^${t}`) }).click(); } await p.getByRole('heading', { name: 'Keep this bike' }).waitFor({ timeout: 120000 }); }],
  ...(plain ? [
    ['bike', `#/bike/${plain.id}`, async (p) => p.locator('[data-figure="riding-left"] svg').waitFor({ timeout: 120000 })],
    ['reading-1', `#/bike/${plain.id}/reading`],
    ['reading-2', `#/bike/${plain.id}/reading`, async (p) => { await p.getByRole('button', { name: 'front pads' }).click(); await p.locator('.big-number').fill('2,6'); }],
    ['reading-3', `#/bike/${plain.id}/reading`, async (p) => { await p.getByRole('button', { name: 'front pads' }).click(); for (const v of ['2,6', '2,4']) { await p.locator('.big-number').fill(v); await p.getByRole('button', { name: 'Next' }).click(); } }],
    ['reading-dial', `#/bike/${plain.id}/reading`, async (p) => { await p.getByRole('button', { name: 'front run-out' }).click(); for (const v of ['0,02', '0,05', '0,09', '0,11', '0,07', '0,03']) { await p.locator('#dial').fill(v); await p.getByRole('button', { name: 'Next place' }).click(); } }],
    ['stop', `#/bike/${plain.id}/stop`, async (p) => { await p.locator('#grade').fill('12'); await p.getByRole('button', { name: 'Work it out' }).click(); await p.locator('[data-figure="front-chain"] svg').waitFor({ timeout: 60000 }); for (const v of ['8,2', '8,6', '7,9']) { await p.locator('#proof-speed').fill('20'); await p.locator('#proof-distance').fill(v); await p.locator('#proof-force').fill('60'); await p.locator('#by').fill('Ada'); await p.getByRole('button', { name: 'Count this stop' }).click(); await p.waitForTimeout(1500); } }],
    ['life', `#/bike/${plain.id}/life`, async (p) => p.locator('[data-figure="left-in-mm"] svg').waitFor({ timeout: 120000 })],
    ['rows', `#/bike/${plain.id}/rows`], ['check', `#/bike/${plain.id}/check`], ['hold', `#/bike/${plain.id}/hold`], ['try', `#/bike/${plain.id}/try`],
    ['run-out', `#/bike/${plain.id}/run-out`, async (p) => p.locator('[data-figure="front-turn"] svg').first().waitFor({ timeout: 60000 })],
    ['weigh', '#/weigh', async (p) => { await p.locator('#a').selectOption(plain.id); await p.locator('#front-rotor').fill('180'); await p.getByRole('button', { name: 'Weigh up' }).click(); await p.locator('main h2, .trouble').first().waitFor({ timeout: 60000 }); }],
  ] : []),
  ['explain', '#/explain', async (p) => p.locator('[data-figure="explain-stop-hand-on-lever"] svg.drawing').waitFor({ timeout: 300000 })],
  ...(held ? [['bike-held', `#/bike/${held.id}`, async (p) => p.getByRole('heading', { name: 'How hot' }).waitFor({ timeout: 120000 })]] : []),
  ...(ride ? [['ride', `#/bike/${plain.id}/ride/${ride.id}`, async (p) => p.locator('[data-figure="ride"] svg').first().waitFor({ timeout: 120000 })]] : []),
];
for (const [size, viewport] of [['desk', { width: 1280, height: 900 }], ['phone', { width: 360, height: 740 }]])
  for (const scheme of ['light', 'dark']) {
    const context = await browser.newContext({ viewport, colorScheme: scheme, deviceScaleFactor: 1 });
    for (const [name, path, act] of pages) {
      if (only && !`${name}-${size}-${scheme}`.includes(only)) continue;
      const page = await context.newPage();
      page.on('console', (m) => console.log(`${name} ${size} ${scheme}: ${m.type()}: ${m.text()}`));
      page.on('pageerror', (e) => console.log(`${name}: ${e.message}`));
      await page.goto(url + path);
      await page.waitForTimeout(350);
      await act?.(page).catch((e) => { failed = true; console.log(`${name} ${size} ${scheme}: ${e.message.split('\n')[0]}`); });   // the picture shows how far it got
      await page.waitForTimeout(250);
      await page.screenshot({ path: `${dir}/${name}-${size}-${scheme}.png`, fullPage: true });
      await page.close();
    }
    await context.close();
  }
await browser.close();
await service.end();
if (failed) process.exit(1);
