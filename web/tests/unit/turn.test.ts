// SPDX-License-Identifier: Apache-2.0
import { describe, expect, it } from 'vitest';
import { push_figure, steps_of, turn_figure, words_apart } from '../../src/figures/turn';
import type { RunOut } from '../../src/wire';

const i = (p50: number, half = 0.01) => ({ p05: p50 - half, p50, p95: p50 + half });
const bend = (angle: number, height: number) => ({ probability: 0.99, angle_deg: i(angle, 2), height_mm: i(height), width_deg: i(36, 5), push: height > 0 ? ('away_from_dial' as const) : ('towards_dial' as const), total_after_mm: i(0.1) });
const read: RunOut = {
  day: '2026-06-01', reading: '11111111-2222-4333-8444-555555555555', depth: 'parts', angles: 24, seen_mm: 0.28, worth_mm: 0.03, total_mm: i(0.28), total_without_tilt_mm: i(0.27), noise_mm: i(0.006), saddle: null, arms: null,
  tilt: { per_turn: 1, probability: 1, amplitude_mm: i(0.05), angle_deg: i(70, 5) }, bends: [bend(200, 0.16), bend(310, -0.13), bend(90, 0.02)], perhaps: [],
  read: [{ angle_deg: 0, dial_mm: 0.1 }], shape: [{ angle_deg: 0, dial_mm: i(0) }, { angle_deg: 180, dial_mm: i(0) }],
  words: ['Total run-out.', 'Seat tilt.', 'Plan, only where the maker allows it:', '1. The seat first.', '2. Push.', 'Cold rotor.'],
};

describe('a rotor’s turn', () => {
  it('gives the seat first, then each bend that is worth it, with its own way', () => {
    expect(steps_of(read).map((s) => [s.number, s.what, s.way])).toEqual([[1, 'seat', null], [2, 'push', 'away_from_dial'], [3, 'push', 'towards_dial']]);
  });
  it('names no place to push where the readings cannot tell a seat from bends', () => {
    expect(steps_of({ ...read, depth: 'total' })).toEqual([]);
    expect(push_figure('front', { ...read, depth: 'total' }, 'metric')).toBeNull();
    expect(push_figure('front', { ...read, bends: [] }, 'metric')).toBeNull();
  });
  it('keeps the plan’s own lead before its steps', () => {
    expect(words_apart(read.words!)).toEqual({ is: ['Total run-out.', 'Seat tilt.'], lead: 'Plan, only where the maker allows it:', steps: ['1. The seat first.', '2. Push.'], after: ['Cold rotor.'] });
    expect(words_apart(['Four places.']).lead).toBeNull();
  });
  it('says where, which way, how far and what is expected, and that the maker comes first', () => {
    const f = push_figure('front', read, 'metric')!;
    expect(f.says).toContain('2: at 200° push away from the dial by 0.16 mm, over about 36°; then 0.10 mm (0.09 to 0.11) is expected');
    expect(f.says).toContain('3: at 310° push towards the dial by 0.13 mm');
    expect(f.caption).toContain('Only where the rotor’s maker allows straightening');
    expect(f.table.rows[0]![1]).toBe('the seat');
    expect(turn_figure('front', read, 'imperial').table.rows[0]![1]).toMatch(/in \(/);
  });
});
