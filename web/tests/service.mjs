// SPDX-License-Identifier: Apache-2.0
// Starts the real program on papers of its own, on loopback, and ends it again.                            Layer: web, tests
import { execFileSync, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import AxeBuilder from '@axe-core/playwright';

export const root = resolve(fileURLToPath(new URL('../..', import.meta.url)));
export const program = process.env.BRAKEWRIGHT ?? join(root, 'build/release/src/app/brakewright');
export const demo_ride = join(process.env.BRAKEWRIGHT_RIDES ?? join(root, 'demo/rides'), 'pass-and-back.gpx');
export const browser_path = process.env.CHROMIUM ?? '/usr/bin/chromium';

// What axe finds that is serious, a line each. Pages here have no frames, so it may work in the page itself, and only what is wrong is written out: two and a half times quicker.
export async function serious(page) {
  const found = await new AxeBuilder({ page }).options({ resultTypes: ['violations'] }).setLegacyMode().analyze();
  return found.violations.filter((v) => ['serious', 'critical'].includes(v.impact)).map((v) => `axe ${v.id}: ${v.nodes.map((n) => n.target).slice(0, 4).join(' ')}`);
}

//! Asks on a page: the reply, which says what was done. A refusal and a question are no reply, whatever their status.
export async function asked(page, path, { method = 'GET', type, body } = {}) {
  const { status, text } = await page.evaluate(async ([p, how]) => {
    const headers = how.method === 'GET' ? {} : { 'X-Brakewright-Token': document.querySelector('meta[name="brakewright-token"]').content, ...(how.type ? { 'Content-Type': how.type } : {}) };
    const r = await fetch(`/api/v1${p}`, { method: how.method, headers, ...(how.body === undefined ? {} : { body: how.body }), signal: AbortSignal.timeout(60_000) });
    return { status: r.status, text: await r.text() };
  }, [path, { method, type, body }]);
  let said = null;
  try { said = JSON.parse(text); } catch { /* said below */ }
  if (status >= 400 || said === null || said.error || said.not_done || said.asked) throw new Error(`${method} ${path}: ${status} ${text.slice(0, 300)}`);
  return said;
}

export async function open_service(today = '2026-06-01') {
  for (const file of [program, demo_ride, browser_path]) if (!existsSync(file)) throw new Error(`${file} is not there: build the targets brakewright and demo_rides, and install chromium`);
  const folder = mkdtempSync(join(tmpdir(), 'brakewright-web-'));
  const papers = join(folder, 'papers.sqlite');
  execFileSync(program, ['papers', 'make', papers]);
  let child = null, said = '';
  const ended = () => child.exitCode !== null || child.signalCode !== null;
  const start = (listen) => new Promise((ok, bad) => {
    child = spawn(program, ['open', '--papers', papers, '--listen', listen, '--today', today], { stdio: ['ignore', 'pipe', 'pipe'] });
    said = '';
    child.stdout.on('data', (d) => { said += d; const m = /http:\/\/127\.0\.0\.1:\d+\//.exec(said); if (m) ok(m[0]); });
    child.stderr.on('data', (d) => (said += d));
    child.on('exit', (code, signal) => bad(new Error(`the program ended with ${code ?? signal}: ${said}`)));
  });
  // Ends it and waits; a program that ended by itself is a trouble, not something to wait for.
  const stop = () => new Promise((ok, bad) => {
    if (ended()) return bad(new Error(`the program had ended by itself with ${child.exitCode ?? child.signalCode}: ${said}`));
    const late = setTimeout(() => { child.kill('SIGKILL'); bad(new Error('the program did not end within a minute')); }, 60_000);
    child.removeAllListeners('exit');
    child.on('exit', () => { clearTimeout(late); ok(); });
    child.kill('SIGINT');
  });
  const url = await start('127.0.0.1:0');
  return {
    url, papers, ended, said: () => said,
    again: async () => { await stop(); await start(new URL(url).host); },   // closed, and the same papers opened at the same address
    end: () => stop().finally(() => rmSync(folder, { recursive: true, force: true })),
  };
}
