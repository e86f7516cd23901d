// SPDX-License-Identifier: Apache-2.0
// Sentences: what a bike that is held back never says, and what each verdict looks like.               Layer: web, tests
import { describe, expect, it } from 'vitest';
import type { Answer, LifePart, StandBike, State } from '../../src/wire';
import { condition_said, heat_said, life_rows, life_said, looks_of, mark_of, rotors_told, stand_order, stop_said, verdict_words, wind_said } from '../../src/words';

const interval = (p50: number) => ({ p05: p50 * 0.6, p50, p95: p50 * 1.9 });
function answer(more: Partial<Answer> = {}): Answer {
  return {
    schema: 'answer/1', version: '0', seed: 1, cases: 64, today: '2026-01-01',
    bike: { name: 'A', kind: 'trail', total_mass_kg: 96 },
    verdict: { do_not_ride: false, state: 'no_reason_found', reasons: [], checks_done: 9, checks_total: 12 },
    rides: [], assumed: [], measure_next: null, cautions: ['…'],
    life: { front: { pad: { remaining_km: interval(340), remaining_rides: interval(20), remaining_descent_m: null, look_by: '2026-12-14', look_by_km: 120 }, rotor: null }, rear: null },
    stops: [{ brakes: 'both', surface: 'dry', from_mps: 25 / 3.6, grade: 0, brake_distance_m: interval(9), room_needed_m: { p05: 14.3, p50: 18, p95: 23.8 }, deceleration_mps2: interval(3.4), lever_force_N: interval(46), limited_by: 'skill' }],
    ...more,
  } as Answer;
}
describe('rotors', () => {
  it('are as stamped only where somebody told it', () => {
    const told = { diameter_mm: 180, diameter_given: true }, by_kind = { diameter_mm: 160, diameter_given: false };
    expect(rotors_told(told, told)).toBe('rotors stamped 180 and 180 mm');
    expect(rotors_told(told, by_kind)).toBe('rotors: front stamped 180 mm; rear about 160 mm, not told');
    expect(rotors_told(by_kind, by_kind)).not.toContain('stamped');
  });
});
const held = answer({ verdict: { do_not_ride: true, state: 'held_back', reasons: [{ code: 'x', text: 'Do not ride: the pad is worn.' }], checks_done: 4, checks_total: 12 } });

describe('A bike that is held back', () => {
  it('gets no distance and no life, whatever stands in the answer', () => {
    for (const said of [stop_said(held, 'metric'), life_said(held, 'metric')]) expect(`${said.sentence} ${said.more.join(' ')}`).not.toMatch(/\d/);
    expect(condition_said(held.verdict).sentence).toContain('reason not to ride');
  });
});

describe('Sentences', () => {
  it('the room is the long end of the interval', () => {
    expect(stop_said(answer(), 'metric').sentence).toContain('leave 24 m of room');
    expect(stop_said(answer(), 'imperial').sentence).toContain('leave 78 ft of room');   // 23.8 m / 0.3048
  });
  it('a brake that may not stop says so instead of a distance', () => {
    const a = answer();
    a.stops[0]!.room_needed_m = null;
    a.stops[0]!.limited_by = 'does_not_stop';
    expect(stop_said(a, 'metric').sentence).toContain('may not stop');
  });
  it('life names the part that goes first, and the part that wants the first look', () => {
    const a = answer();
    const front = a.life.front!.pad!;
    a.life.rear = { pad: { ...front, remaining_km: { p05: 18, p50: 900, p95: 1900 }, look_by_km: 2, look_by: '2026-02-03' }, rotor: null };
    expect(life_said(a, 'metric').sentence).toContain('The front pads go first: about 340 km');
    expect(life_said(a, 'metric').more[0]).toContain('Look at the rear pads by 3 February 2026');
  });
  it('life says one part\'s middle and ends', () => {
    expect(life_said(answer(), 'metric').sentence).toBe('The front pads go first: about 340 km of riding like this, between 200 and 650.');
    expect(life_said(answer(), 'metric').more[0]).toContain('14 December 2026');
    expect(life_rows(answer().life)).toHaveLength(1);
  });
  it('heat says what lies outside what was measured, and the squeeze hot and cold', () => {
    const cool = { rotor_peak_degC: interval(90), fluid_peak_degC: null, fluid_boil_probability: null, fade_probability: 0, lever_force_factor: null, rotor_under_pad_peak_degC: null };
    const hot = { ...cool, rotor_peak_degC: interval(310), hold_lever_force_N: interval(80), hold_lever_force_cold_N: interval(60), hold_outside_measured_probability: 0.9, outside_measured_share: 0.52, above_measured_power_share: 0.3 };
    const said = (front: object) => heat_said(answer({ rides: [{ file: 'a.gpx', start_time: null, wheels: { front, rear: cool } }] } as unknown as Partial<Answer>), 'metric').more.join(' ').replace(/\u00a0/g, ' ');
    expect(said(hot)).toContain('52 % of its braking was done with pads above 277 °C: outside what was measured');
    expect(said(hot)).toContain('30 % of its braking took more than 400 W');
    expect(said(hot)).toMatch(/squeeze of 80.*cold 60.*outside what was measured of pads/);
    expect(said({ ...hot, hold_outside_measured_probability: 0, outside_measured_share: 0, above_measured_power_share: 0 })).not.toContain('outside');
  });
  it('without a ride, heat teaches', () => expect(heat_said(answer(), 'metric').more[0]).toContain('Add a ride'));
  it('no sentence calls anything safe', () => {
    const words = [answer(), held].flatMap((a) => [stop_said(a, 'metric'), heat_said(a, 'metric'), life_said(a, 'metric'), condition_said(a.verdict)]).flatMap((s) => [s.sentence, ...s.more]);
    for (const w of words) expect(w).not.toMatch(/\bsafe|fit to ride\b/i);
  });
});

describe('Verdicts', () => {
  it.each([['held_back', 'square'], ['replace', 'square'], ['look_by', 'half'], ['measure_better', 'triangle'], ['no_reason_found', 'circle']] as [State, string][])('%s is a %s', (state, mark) => expect(mark_of(state)).toBe(mark));
  it('nothing found says in how many checks', () => expect(verdict_words(answer().verdict)).toBe('no reason found in 9 of 12 checks'));
  it('a bike of which nothing was computed says so, unless something must be measured too', () => {
    const reasons = [{ code: 'not_worked_out', text: 'Not yet worked out.' }], verdict = { ...answer().verdict, state: 'measure_better' as const, reasons };
    expect(verdict_words(verdict)).toBe('not yet worked out');
    expect(verdict_words({ ...verdict, reasons: [...reasons, { code: 'front_pad_too_near_to_tell', text: 'Measure.' }] })).toBe('measure again, better');
  });
});

describe('The stand', () => {
  const bike = (name: string, more: Partial<StandBike> = {}) => ({ id: name, name, kind: 'city', verdict: answer().verdict, look_by: null, overdue: [], minutes: 6, rides: 0, last_ride: null, held: null, ...more }) as StandBike;
  it('puts held back first, then what must be replaced, then by date, dateless last', () => {
    const order = stand_order([bike('dateless'), bike('later', { look_by: '2027-01-01' }), bike('soon', { look_by: '2026-02-01' }), bike('replace', { verdict: { ...answer().verdict, text: '', notes: [], state: 'replace' } }), bike('held', { held: { by: 'B', why: 'w', since: '2026-01-01T00:00:00Z' } })]);
    expect(order.map((b) => b.name)).toEqual(['held', 'replace', 'soon', 'later', 'dateless']);
  });
});

describe('A told wind', () => {
  const taken = 'Wind taken as told: 5 m/s from 270 degrees.', unused = 'The wind was told with its direction, and this recording has no positions.', meter = 'The wind as told does not fit the power meter.';
  const ride = (file: string, ...texts: string[]) => ({ file, start_time: null, faults: texts.map((text) => ({ kind: 'other', count: 1, seconds: 0, text })), wheels: {} }) as unknown as Answer['rides'][number];
  it('is said ride by ride, with how many it counts on', () => {
    const said = wind_said(answer({ rides: [ride('a.gpx', taken), ride('b.csv', 'Five spikes of altitude were left out.', unused), ride('c.fit', meter)] }));
    expect(said).toEqual(['The wind counts on 1 of the 3 rides.', `a: ${taken}`, `b: ${unused}`, `c: ${meter}`]);
    expect(wind_said(answer({ rides: [ride('a.gpx', taken), ride('b.gpx', taken)] }))[0]).toBe('The wind counts on all of the 2 rides.');
    expect(wind_said(answer({ rides: [ride('b.csv', unused)] }))[0]).toBe('The wind counts on no ride.');
    expect(wind_said(answer({ rides: [ride('b.csv', unused), ride('c.fit', meter)] }))[0]).toBe('The wind counts on none of the 2 rides.');
  });
  it('is not mentioned where nobody told one', () => {
    expect(wind_said(answer({ rides: [ride('a.gpx', 'Five spikes of altitude were left out.')] }))).toEqual([]);
  });
});

describe('What to look at first', () => {
  const part = (component: string | undefined, name: string, date: string | null, km: number, rides = 5, chance = 0): LifePart =>
    ({ component, name, look_by: { rides, km, date }, limit_reached_probability: chance }) as unknown as LifePart;
  const front = part(undefined, 'front pads', '2026-07-09', 400), rear = part(undefined, 'rear pads', '2026-06-17', 260);
  const left = part('rear_left_pad', 'rear left pad', '2026-06-17', 260), rotor = part('rear_rotor', 'rear rotor', '2026-06-24', 248);
  it('goes by the day, not by the way alone, and is at both pads of a wheel', () => {
    const looks = looks_of({ parts: [left, rotor], pads: { front, rear } });
    expect(looks.first?.name).toBe('rear pads');
    expect(looks.at_once).toEqual([]);
  });
  it('goes by the way where no day is known', () => {
    const dateless = [part(undefined, 'rear pads', null, 260), part('rear_rotor', 'rear rotor', null, 248)] as const;
    expect(looks_of({ parts: [dateless[1]], pads: { front: null, rear: dateless[0] } }).first?.name).toBe('rear rotor');
  });
  it('is before the next ride where the chance is there, or comes on it', () => {
    const looks = looks_of({ parts: [rotor], pads: { front: part(undefined, 'front pads', '2026-06-02', 10, 0), rear: part(undefined, 'rear pads', '2026-06-02', 30, 2, 0.007) } });
    expect(looks.at_once.map((p) => p.name)).toEqual(['front pads', 'rear pads']);
    expect(looks.first?.name).toBe('rear rotor');
  });
});
