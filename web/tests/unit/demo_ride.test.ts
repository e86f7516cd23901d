// SPDX-License-Identifier: Apache-2.0
// Invented rides: the way and the clock agree, nobody brakes harder than was said.                        Layer: web, tests
import { describe, expect, it } from 'vitest';
import { gpx_of, pieces_of, records_of } from '../../src/demo_ride';

describe.each(['pass', 'town'] as const)('The invented %s ride', (kind) => {
  const all = records_of(kind);
  it('has a record a second, and its positions cover the way at its speeds', () => {
    expect(all.map((r) => r.t_s)).toEqual(all.map((_, i) => i));
    const way = pieces_of(kind).reduce((s, p) => s + p.metres, 0);
    const m = 111_195;
    let along = 0;
    for (let i = 1; i < all.length; ++i) along += Math.hypot((all[i]!.latitude_deg - all[i - 1]!.latitude_deg) * m, (all[i]!.longitude_deg - all[i - 1]!.longitude_deg) * m * Math.cos((46.2 * Math.PI) / 180));
    expect(along / way).toBeGreaterThan(0.97);
    expect(along / way).toBeLessThan(1.01);
  });
  it('never slows harder than an ordinary hand', () => {
    for (let i = 1; i < all.length; ++i) expect(all[i - 1]!.speed_mps - all[i]!.speed_mps).toBeLessThan(2.2);
  });
  it('is GPX with a time at each point', () => {
    const text = gpx_of({ name: 'a', day: '2026-05-02', kind });
    expect(text.match(/<trkpt /g)).toHaveLength(all.length);
    expect(text).toContain('<time>2026-05-02T08:00:01.000Z</time>');
  });
});
