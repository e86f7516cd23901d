// SPDX-License-Identifier: Apache-2.0
// The report of `answer --report`: alone in the world, with scripts and without, and held back first.     Layer: web, tests
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { copyFileSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { chromium } from 'playwright-core';
import { browser_path, demo_ride, program, root, serious } from './service.mjs';

const folder = mkdtempSync(join(tmpdir(), 'brakewright-report-'));
const browser = await chromium.launch({ executablePath: browser_path, args: ['--no-sandbox'] });
try {
  const ride = join(folder, '<img src=x onerror=alert(1)>.gpx');   // markup in a name stays text
  copyFileSync(demo_ride, ride);
  const make = (bike, name) => {
    const out = join(folder, name);
    execFileSync(program, ['answer', join(root, 'demo/bikes', bike), ride, '--cases', '64', '--report', out], { stdio: ['ignore', 'ignore', 'ignore'] });
    return pathToFileURL(out).href;
  };
  const plain = make('trail.toml', 'plain.html'), held = make('held-back.toml', 'held.html');
  const open = async (url, more = {}) => {
    const context = await browser.newContext({ viewport: { width: 1100, height: 900 }, ...more });
    const page = await context.newPage();
    page.on('console', (m) => assert.fail(`console: ${m.text()}`));
    page.on('pageerror', (e) => assert.fail(e.message));
    page.on('request', (r) => assert.ok(r.url() === url || r.url().startsWith('data:'), `a request left the report: ${r.url()}`));
    await page.goto(url);
    return page;
  };
  let page = await open(plain);
  for (const figure of ['room-to-stop', 'hottest', 'riding-left', 'ride', 'where-the-height-went']) await page.locator(`[data-figure="${figure}"] svg`).first().waitFor();
  assert.equal(await page.locator('h3').first().innerText(), '<img src=x onerror=alert(1)>.gpx');
  assert.equal(await page.locator('img').count(), 0);
  assert.deepEqual(await serious(page), []);
  const bad = await (await browser.newContext()).newPage();   // and what is wrong is found
  await bad.setContent('<html lang="en"><title>pale</title><main><h1 style="color:#eee;background:#fff">pale</h1><img src="data:,"><button></button></main>');
  assert.deepEqual((await serious(bad)).map((f) => f.split(':')[0]).sort(), ['axe button-name', 'axe color-contrast', 'axe image-alt']);
  const pdf = await page.pdf({ format: 'A4' });
  assert.equal(pdf.subarray(0, 4).toString(), '%PDF');

  page = await open(plain, { javaScriptEnabled: false });
  const text = await page.locator('body').innerText();
  for (const words of ['Will it stop?', 'both, dry', 'rotor, mean of the band', 'front pads', 'does not replace an inspection']) assert.ok(text.includes(words), `without scripts the report lacks “${words}”`);

  // A ride that is hot enough: what nobody measured is said there as in the text, with scripts and without.
  const pass = join(root, 'demo/routes/over-ostrel.gpx'), far = join(folder, 'far.html');
  const told = execFileSync(program, ['answer', join(root, 'demo/bikes/trail.toml'), pass, '--cases', '64', '--report', far], { stdio: ['ignore', 'pipe', 'ignore'] }).toString().replace(/\s+/g, ' ');
  for (const words of ['pads above 277 °C: outside what was measured', 'more than 400 W at one wheel', 'squeeze, hardest 10 s, N']) assert.ok(told.includes(words), `the text lacks “${words}”`);
  for (const javaScriptEnabled of [true, false]) {
    page = await open(pathToFileURL(far).href, { javaScriptEnabled });
    const body = (await page.locator('body').innerText()).replace(/\s+/g, ' ');
    for (const words of ['pads above 277 °C: outside what was measured', 'more than 400 W', 'squeeze, hardest 10 s, N', 'the same, brake cold, N', 'squeeze, hot / cold', 'into the brake, kJ', 'What the brakes did', 'Most in five minutes', 'nobody published the boiling point']) assert.ok(body.includes(words), `the report lacks “${words}”`);
  }

  page = await open(held);
  await page.locator('[data-figure="hottest"] svg').first().waitFor();
  const main = await page.locator('main').innerText();
  assert.ok(main.indexOf('Do not ride.') < main.indexOf('Will it stop?'));
  assert.equal(await page.locator('[data-figure="room-to-stop"], [data-figure="riding-left"]').count(), 0);
  assert.ok(!main.includes('room with reaction'), 'a distance stands in a report of a bike that is held back');
  console.log('reports: with scripts, without, printed, held back first');
} finally {
  await browser.close();
  rmSync(folder, { recursive: true, force: true });
}
