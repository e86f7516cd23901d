// SPDX-License-Identifier: Apache-2.0
// Proof stops as typed, the chain's scale, the lever's words.                                            Layer: web, tests
import { describe, expect, it } from 'vitest';
import { alike_ends, balance_figure, balance_said, sum_for } from '../../src/figures/balance';
import { force_share, stage_value } from '../../src/figures/chain';
import { lever_figure, lever_said } from '../../src/figures/lever';
import { decline, declined, entry_of_stop, forget_kept, left_in_browser, lever_place, old_stops, proof_stop, recorded_entry, stops_for_job, waiting_stops, type OldStop, type OneBrakeStop } from '../../src/proof';
import type { Waiting } from '../../src/queue';
import type { Balance, LeverOfWheel, ProofPage, RecordedStops } from '../../src/wire';
import { whole_interval } from '../../src/units';

describe('A proof stop', () => {
  const typed = { speed: '18', distance: '8,5', force: '60' };
  it('is SI inside, with a comma or a point', () =>
    expect(proof_stop(typed, 'front', 2.4, 'metric')).toEqual({ wheel: 'front', from_mps: 5, distance_m: 8.5, time_s: 2.4, lever_force_N: 60, surface: 'dry', grade: 0 }));
  it('takes miles, feet and pounds', () => {
    const s = proof_stop({ speed: '10', distance: '20', force: '10' }, 'rear', null, 'imperial');
    if (typeof s === 'string') throw new Error(s);
    expect(s.from_mps).toBeCloseTo(4.4704, 6);        // 1 mph = 0.44704 m/s
    expect(s.distance_m).toBeCloseTo(6.096, 6);       // 1 ft = 0.3048 m
    expect(s.lever_force_N).toBeCloseTo(44.48222, 4); // 1 lbf = 4.448222 N
  });
  it('without a scale has no force; out of range or nonsense is said', () => {
    expect(proof_stop({ ...typed, force: '' }, 'front', null, 'metric')).toMatchObject({ lever_force_N: null });
    expect(proof_stop({ ...typed, speed: '180' }, 'front', null, 'metric')).toContain('expected 5 to 60');
    expect(proof_stop({ ...typed, distance: 'far' }, 'front', null, 'metric')).toContain('Distance');
    expect(proof_stop(typed, 'front', 0.05, 'metric')).toContain('expected 0.1 to 100 s');   // a double tap on the timer
  });
});

describe('Stops of a recorded ride', () => {
  const list = { ride: 'r', file: 'trial.gpx', day: '2026-05-01', surface: null, do_not_ride: false, stops: [] } as RecordedStops;
  const choice = { wheel: 'front' as const, surface: 'dry' as const, day: '', place: '20', squeezes: new Map([[4, '13'], [1, '']]) };
  it('go into the papers with what a person says, in their order', () => {
    expect(recorded_entry(list, choice, 'Ada', 'metric')).toEqual({ by: 'Ada', ride: 'r', wheel: 'front', surface: 'dry', lever_place_mm: 20, stops: [{ number: 1, lever_force_N: null }, { number: 4, lever_force_N: 13 }] });
    expect(recorded_entry(list, { ...choice, day: ' 2026-04-30 ' }, 'Ada', 'metric')).toMatchObject({ day: '2026-04-30' });
    const pounds = recorded_entry(list, { ...choice, squeezes: new Map([[2, '10']]), place: '1' }, 'Ada', 'imperial');
    if (typeof pounds === 'string') throw new Error(pounds);
    expect(pounds.stops[0]!.lever_force_N).toBeCloseTo(44.48222, 4);   // 1 lbf = 4.448222 N
    expect(pounds.lever_place_mm).toBeCloseTo(25.4, 9);
  });
  it('are asked about where something is left open', () => {
    expect(recorded_entry(list, { ...choice, squeezes: new Map() }, 'Ada', 'metric')).toContain('Tick the stops');
    expect(recorded_entry(list, { ...choice, wheel: null }, 'Ada', 'metric')).toContain('Which brake');
    expect(recorded_entry(list, { ...choice, surface: '' }, 'Ada', 'metric')).toContain('On which surface');
    expect(recorded_entry({ ...list, day: null }, choice, 'Ada', 'metric')).toContain('On which day');
    expect(recorded_entry(list, { ...choice, day: 'May' }, 'Ada', 'metric')).toContain('2026-05-01');
    expect(recorded_entry(list, { ...choice, squeezes: new Map([[3, '9000']]) }, 'Ada', 'metric')).toContain('Stop 3. Squeeze');
    expect(recorded_entry(list, { ...choice, place: '900' }, 'Ada', 'metric')).toContain('0 to 150 mm');
  });
  it('without a scale need no marked place', () => expect(recorded_entry(list, { ...choice, squeezes: new Map([[1, '']]), place: 'x' }, 'Ada', 'metric')).not.toHaveProperty('lever_place_mm'));
});

const store_of = () => {
  const kept = new Map<string, string>();
  return { kept, getItem: (k: string) => kept.get(k) ?? null, setItem: (k: string, v: string) => void kept.set(k, v) };
};
const old = (date: string): OneBrakeStop => ({ date, wheel: 'front', from_mps: 5, distance_m: 8.5, time_s: null, lever_force_N: 60, surface: 'dry', grade: 0 });
const in_papers = (id: string) => ({ ...old('2026-05-01'), id, lever_place_mm: null, way: null, person: 'Ada', note: '', cleared_by: null }) as ProofPage['stops'][number];

describe('Stops that a browser kept before the papers did', () => {
  const ids = () => {
    let n = 0;
    return () => `id-${++n}`;
  };
  it('are named at first sight and keep that name', () => {
    const s = store_of();
    s.setItem('brakewright.proof.a', JSON.stringify([old('2026-05-01'), old('2026-05-02')]));
    const first = old_stops(s, 'a', ids());
    expect(first.map((x) => x.entry_id)).toEqual(['id-1', 'id-2']);
    expect(old_stops(s, 'a', () => 'another')).toEqual(first);
    expect(old_stops(s, 'b')).toEqual([]);
  });
  it('a damaged store is none and stays as it is; what is no stop is left out, not thrown away', () => {
    const s = store_of();
    s.setItem('brakewright.proof.a', '{');
    expect(old_stops(s, 'a')).toEqual([]);
    expect(s.kept.get('brakewright.proof.a')).toBe('{');
    s.setItem('brakewright.proof.a', JSON.stringify([null, { from_mps: 'x' }, old('2026-05-01')]));
    expect(old_stops(s, 'a', ids())).toHaveLength(1);
    expect(JSON.parse(s.kept.get('brakewright.proof.a')!)).toHaveLength(3);
  });
  it('leave the browser only when the papers hold them', () => {
    const s = store_of();
    s.setItem('brakewright.proof.a', JSON.stringify([old('2026-05-01'), old('2026-05-02')]));
    const all = old_stops(s, 'a', ids());
    forget_kept(s, 'a', []);
    expect(old_stops(s, 'a')).toEqual(all);
    forget_kept(s, 'a', [in_papers('id-1'), in_papers('other')]);
    expect(old_stops(s, 'a').map((x) => x.entry_id)).toEqual(['id-2']);
  });
  it('no stop goes with a job that the papers hold or will hold', () => {
    const all = ['id-1', 'id-2', 'id-3'].map((entry_id, i) => ({ ...old(`2026-05-0${i + 1}`), entry_id }) as OldStop);
    const queue: Waiting[] = [{ bike: 'a', bike_name: 'A', typed_at: '', entry: entry_of_stop(old('2026-05-02'), 'Ada', 'id-2') }];
    expect(stops_for_job(left_in_browser(all, [in_papers('id-1')], queue))).toEqual([old('2026-05-03')]);
    expect(waiting_stops(queue, 'a').map((e) => e.entry_id)).toEqual(['id-2']);
    expect(waiting_stops(queue, 'b')).toEqual([]);
  });
  it('left out stays left out, and loses none', () => {
    const s = store_of();
    s.setItem('brakewright.proof.a', JSON.stringify([old('2026-05-01')]));
    expect(declined(s, 'a')).toBe(false);
    decline(s, 'a');
    expect(declined(s, 'a')).toBe(true);
    expect(old_stops(s, 'a', () => 'one')).toHaveLength(1);
  });
});

describe('The chain', () => {
  it('gives a tenfold force the same length everywhere', () => {
    expect(force_share(500) - force_share(50)).toBeCloseTo(1 / 3, 9);
    expect(force_share(5000)).toBe(1);
    expect(force_share(0)).toBeGreaterThan(0);
  });
  it('says pressure and torque in units of the trade', () => {
    expect(stage_value(2.5e6, 'Pa', 'metric')).toBe('25 bar');
    expect(stage_value(6894.757 * 360, 'Pa', 'imperial')).toBe('360 psi');
    expect(stage_value(1.355818 * 62, 'N m', 'imperial')).toBe('62 lbf ft');
  });
});

describe('The lever', () => {
  const points = (v: number) => ({ p05: v - 2, p50: v, p95: v + 2 });
  const lever = (bite: number, in_window: boolean): LeverOfWheel => ({ bite_mm: points(bite), full_mm: points(bite - 6), window_mm: [13, 39], in_window, travel_per_pad_mm_mm: 50, force_03g_N: points(60), force_lock_N: points(120) });
  it('without a bite that leaves way and strength says so, whichever way the ends lie', () => {
    const none = { ...lever(34, false), window_mm: [41, 39] } as LeverOfWheel;
    expect(lever_said('front', none, 'metric')).toContain('no bite leaves this hand both way and strength');
    expect(lever_figure({ front: none, rear: null }, 'metric')!.table!.rows[0]![3]).toBe('no bite');
  });
  it('says where the bite is, and nothing of an arm', () => {
    const all = [lever_said('front', lever(34, true), 'metric'), lever_said('front', lever(48, false), 'metric'), lever_said('rear', lever(8, false), 'metric')];
    expect(all[0]).toContain('works well');
    expect(all[1]).toContain('too far out');
    expect(all[2]).toContain('near the bar');
    expect(all.join(' ')).not.toMatch(/preload|arm/i);
  });
});

it('an interval with a point missing is none', () => {
  expect(whole_interval({ p05: 1, p50: null, p95: 3 })).toBeNull();
  expect(whole_interval({ p05: 1, p50: 2, p95: 3 })).toEqual({ p05: 1, p50: 2, p95: 3 });
});

describe('Front against rear', () => {
  const points = (v: number) => ({ p05: v - 1, p50: v, p95: v + 1 });
  const tyres = (front_N: number, rear_N: number) => ({ front_N, rear_N, deceleration_mps2: (front_N + rear_N) / 100 - 0.5 });   // 100 kg, down a hill that takes 50 N
  const b: Balance = {
    weight_N: 980, best: [tyres(0, 0), tyres(200, 120), tyres(600, 0)], alike: [{ lever_force_N: 0, ...tyres(0, 0) }, { lever_force_N: 45, ...tyres(190, 185) }], alike_ends_by: 'rear_grip',
    alike_ends_share: { front_grip: 0.1, rear_grip: 0.72, rear_lift: 0, lever_force: 0.18 }, front_locks: null, rear_skids: [tyres(0, 260), tyres(600, 0)], rear_lifts_N: 600,
    grip: points(2), best_mps2: points(5.5), front_alone_mps2: points(5.5), rear_alone_mps2: points(2.4), rear_lift_mps2: points(5.5), alike_mps2: points(3.3), alike_lever_force_N: points(45),
  };
  it('says what ends the pull, for how many, and that it is no aim', () => {
    expect(alike_ends(b)).toEqual({ by: 'rear_grip', share: 0.72 });
    expect(balance_said(b, 'metric')).toMatch(/rear tyre starts to skid, in 72 %/);
    expect(balance_said(b, 'metric')).toContain('not aims');
    expect(balance_said({ ...b, alike_ends_share: { front_grip: 0.6, rear_grip: 0.4, rear_lift: 0, lever_force: 0 } }, 'metric')).toContain('a fall');
  });
  it('joins forces that slow alike', () => {
    expect(sum_for(b.best, -0.5)).toBeCloseTo(0, 9);
    expect(sum_for(b.best, 2)).toBeCloseTo(250, 9);
    expect(sum_for([], 2)).toBeNaN();
  });
  it('has a row for each way of braking, in the unit asked for', () => {
    const rows = balance_figure(b, 'imperial').table.rows.map((r) => r.join(' ')).join('; ');
    expect(rows).toContain('ft/s²');
    expect(rows).toContain('front alone');
    expect(rows).not.toContain('lifts, ');
  });
});

describe('the marked place on the lever', () => {
  it('is not told when nothing is typed, and is in millimetres whatever was typed', () => {
    expect(lever_place(' ', 'metric')).toBeNull();
    expect(lever_place('20', 'metric')).toBe(20);
    expect(lever_place('1', 'imperial')).toBeCloseTo(25.4);
  });
  it('says what is wrong with it', () => {
    expect(lever_place('900', 'metric')).toMatch(/0 to 150 mm/);
    expect(lever_place('there', 'metric')).toMatch(/Marked place/);
  });
  it('goes with the stop, and so does how its way was measured', () => {
    const stop = proof_stop({ speed: '20', distance: '8', force: '60' }, 'front', null, 'metric') as OneBrakeStop;
    expect(entry_of_stop(stop, 'Ada', 'id', { way: 'paced', lever_place_mm: 20 })).toMatchObject({ way: 'paced', lever_place_mm: 20, by: 'Ada' });
    expect(entry_of_stop(stop, 'Ada', 'id')).not.toHaveProperty('lever_place_mm');
  });
});
