// SPDX-License-Identifier: Apache-2.0
import { webcrypto } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { new_id } from '../../src/ids';

describe('an id made by a page', () => {
  it('is a UUID of version 4, from random bytes alone', () => {
    const id = new_id({ getRandomValues: (a) => ((a as unknown as Uint8Array).fill(0xff), a) });
    expect(id).toBe('ffffffff-ffff-4fff-bfff-ffffffffffff');
    const many = new Set(Array.from({ length: 200 }, () => new_id(webcrypto as unknown as Crypto)));
    expect(many.size).toBe(200);
    for (const one of many) expect(one).toMatch(/^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  });
  it('is made nowhere by what a browser has on this machine only', () => {
    const src = new URL('../../src/', import.meta.url).pathname;
    const all = (dir: string): string[] => readdirSync(dir, { withFileTypes: true }).flatMap((f) => (f.isDirectory() ? all(join(dir, f.name)) : /\.(ts|svelte)$/.test(f.name) ? [join(dir, f.name)] : []));
    for (const file of all(src)) expect(readFileSync(file, 'utf8').replace(/\/\/.*/g, ''), file).not.toMatch(/randomUUID|navigator\.clipboard|serviceWorker/);
  });
});
