// SPDX-License-Identifier: Apache-2.0
// How quick the pages are: a 10-hour ride drawn and moved, papers with 3,000 rides opened.                Layer: web, tests
//   node tests/pace.mjs     prints what was measured; fails where a figure of the work item is missed
import { chromium } from 'playwright-core';
import { asked, browser_path, demo_ride, open_service } from './service.mjs';

const service = await open_service();
const browser = await chromium.launch({ executablePath: browser_path, args: ['--no-sandbox'] });
let missed = false;
const say = (what, value, most) => { missed ||= value > most; console.log(`${what}: ${value.toFixed(1)} ms, at most ${most}`); };
try {
  const page = await browser.newPage({ viewport: { width: 1280, height: 900 } });
  page.setDefaultTimeout(120_000);
  await page.goto(service.url);
  await page.getByRole('button', { name: 'The invented bikes' }).click();
  await page.locator('.stand-list li').nth(4).waitFor();
  const { bikes } = await asked(page, '/stand');
  const trail = bikes.find((b) => b.kind === 'trail' && !b.verdict.do_not_ride), city = bikes.find((b) => b.kind === 'city');

  // Ten hours at one record a second, thinned to the 2,000 points that the service gives at most.
  const n = 2000, t_s = Array.from({ length: n }, (_, i) => i * 18);
  const down = t_s.map((t) => t * 0.12), swing = (i, k, phase = 0) => Math.max(0, Math.sin(i / k + phase));
  const columns = { t_s, distance_m: t_s.map((t) => t * 5.5), descended_m: down, altitude_m: down.map((d) => 4500 - d), speed_mps: t_s.map((_, i) => 5 + 3 * swing(i, 9)) };
  for (const [w, k] of [['front', 7], ['rear', 8]]) Object.assign(columns, {
    [`${w}_brake_power_W`]: t_s.map((_, i) => 400 * swing(i, k)), [`${w}_rotor_degC`]: t_s.map((_, i) => 60 + 200 * swing(i, k, -0.4) + 20 * swing(i, 3)),
    [`${w}_pad_face_degC`]: t_s.map((_, i) => 70 + 200 * swing(i, k, -0.4)), [`${w}_fluid_degC`]: t_s.map((_, i) => 40 + 30 * swing(i, 40)),
    [`${w}_rotor_p05_degC`]: t_s.map((_, i) => 50 + 150 * swing(i, k, -0.4)), [`${w}_rotor_p95_degC`]: t_s.map((_, i) => 80 + 280 * swing(i, k, -0.4)),
  });
  await page.goto(`${service.url}#/bike/${trail.id}`);
  await page.locator('#ride-file').setInputFiles(demo_ride);
  await page.locator('[data-figure="riding-left"] svg').waitFor();
  await page.route('**/series?*', async (route) => {
    await page.evaluate(() => {
      window.given = performance.now();
      new MutationObserver((_, o) => { if (document.querySelector('[data-figure="ride"] svg')) { o.disconnect(); requestAnimationFrame(() => (window.shown = performance.now())); } }).observe(document.body, { subtree: true, childList: true });
    });
    await route.fulfill({ json: { columns, thinned_from: 36001 } });
  });
  await page.getByRole('link', { name: 'This ride, place by place' }).click();
  await page.waitForFunction(() => window.shown);
  say('a 10-hour ride drawn after its data', await page.evaluate(() => window.shown - window.given), 300);
  await page.waitForTimeout(500);
  for (let i = 0; i < 2; ++i) await page.getByRole('button', { name: 'closer' }).click();
  await page.locator('.trace').scrollIntoViewIfNeeded();
  const box = await page.locator('.trace').boundingBox();
  const frames = await page.evaluate(async ({ x, y }) => {
    const trace = document.querySelector('.trace'), all = [];
    trace.setPointerCapture = () => undefined;   // the pointer here is made up
    const send = (kind, at) => trace.dispatchEvent(new PointerEvent(kind, { pointerId: 1, clientX: at, clientY: y, bubbles: true }));
    send('pointerdown', x);
    let last = await new Promise((go) => requestAnimationFrame(go));
    for (let i = 1; i <= 120; ++i) {
      send('pointermove', x - 3 * i);
      const now = await new Promise((go) => requestAnimationFrame(go));
      all.push(now - last);
      last = now;
    }
    send('pointerup', x - 360);
    return all.sort((a, b) => a - b);
  }, { x: box.x + 700, y: box.y + 60 });
  say('95 % of 120 frames of a pan', frames[Math.ceil(0.95 * frames.length) - 1], 33.4);   // two frames of a screen at 60 Hz

  const rows = Array.from({ length: 3000 }, (_, i) => `20${String(16 + Math.floor(i / 336)).padStart(2, '0')}-${String(1 + (Math.floor(i / 28) % 12)).padStart(2, '0')}-${String(1 + (i % 28)).padStart(2, '0')},${8000 + i},${100 + (i % 90)},2`);
  const kept = await asked(page, `/bikes/${city.id}/rides?name=rides.csv`, { method: 'POST', body: ['date,distance_m,descent_m,stops_per_km', ...rows].join('\n') });
  if (kept.added !== rows.length) throw new Error(`rides taken in: ${JSON.stringify(kept).slice(0, 300)}`);
  const opened = [];
  const fresh = await browser.newPage({ viewport: { width: 1280, height: 900 } });   // of its own: requests of the one above go through this script
  for (let i = 0; i < 5; ++i) {
    await fresh.goto('about:blank');
    const start = Date.now();
    await fresh.goto(service.url);
    await fresh.locator('.stand-list li').first().waitFor();
    opened.push(Date.now() - start);
  }
  say('papers with 3,000 rides opened, middle of 5', opened.sort((a, b) => a - b)[2], 500);
} finally {
  await browser.close();
  await service.end();
}
if (missed) process.exit(1);
