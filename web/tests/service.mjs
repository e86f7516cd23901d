// SPDX-License-Identifier: Apache-2.0
// Starts the real program on papers of its own, on loopback, and ends it again.                            Layer: web, tests
import { execFileSync, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

export const root = resolve(fileURLToPath(new URL('../..', import.meta.url)));
export const program = process.env.BRAKEWRIGHT ?? join(root, 'build/release/src/app/brakewright');
export const demo_ride = join(process.env.BRAKEWRIGHT_RIDES ?? join(root, 'demo/rides'), 'pass-and-back.gpx');
export const browser_path = process.env.CHROMIUM ?? '/usr/bin/chromium';

export async function open_service(today = '2026-06-01') {
  for (const file of [program, demo_ride, browser_path]) if (!existsSync(file)) throw new Error(`${file} is not there: build the targets brakewright and demo_rides, and install chromium`);
  const folder = mkdtempSync(join(tmpdir(), 'brakewright-web-'));
  const papers = join(folder, 'papers.sqlite');
  execFileSync(program, ['papers', 'make', papers]);
  const child = spawn(program, ['open', '--papers', papers, '--listen', '127.0.0.1:0', '--today', today], { stdio: ['ignore', 'pipe', 'pipe'] });
  let said = '';
  const url = await new Promise((ok, bad) => {
    child.stdout.on('data', (d) => { said += d; const m = /http:\/\/127\.0\.0\.1:\d+\//.exec(said); if (m) ok(m[0]); });
    child.stderr.on('data', (d) => (said += d));
    child.on('exit', (code) => bad(new Error(`the program ended with ${code}: ${said}`)));
  });
  return {
    url, papers,
    end: () => new Promise((ok) => { child.removeAllListeners('exit'); child.on('exit', () => { rmSync(folder, { recursive: true, force: true }); ok(); }); child.kill('SIGINT'); }),
  };
}
