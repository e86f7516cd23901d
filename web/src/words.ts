// SPDX-License-Identifier: Apache-2.0
// Answers as sentences: typed results in, plain words out. Nothing here is ever called safe.               Layer: web
import type { Answer, Assumed, LifeEnd, LifePart, LifeReport, Ride, StandBike, State, Stop, StopReport, StopTold, Verdict, Wheel, WheelName } from './wire';
import { in_units } from './said';
import { day_text, duration_text, interval_text, number_text, percent, unit_of, whole_interval, with_unit, type System } from './units';

export type Mark = 'square' | 'half' | 'circle' | 'triangle';
export const mark_of = (state: State): Mark =>
  state === 'held_back' || state === 'replace' ? 'square' : state === 'look_by' ? 'half' : state === 'measure_better' ? 'triangle' : 'circle';

export const tone_of = (state: State): 'hold' | 'look' | 'ink' =>
  state === 'held_back' || state === 'replace' ? 'hold' : state === 'look_by' || state === 'measure_better' ? 'look' : 'ink';

export function verdict_words(v: Verdict, look_by?: string | null): string {
  switch (v.state) {
    case 'held_back': return 'held back: do not ride';
    case 'replace': return 'replace before the next ride';
    case 'look_by': return look_by ? `look by ${day_text(look_by)}` : 'look by the date below';
    case 'measure_better': return v.reasons?.length && v.reasons.every((r) => r.code === 'not_worked_out') ? 'not yet worked out' : 'measure again, better';
    case 'no_reason_found': return `no reason found in ${v.checks_done} of ${v.checks_total} checks`;
  }
}

//! The short caution stands at the foot of each page: a list of others leaves it out.
export const at_the_foot = (caution: string): boolean => /^An estimate does not replace an inspection\. The maker.s instructions/.test(caution);

export const kind_words: Record<string, string> = { trail: 'trail bike', gravel: 'gravel bike', road: 'road bike', city: 'city bike', cargo: 'cargo bike' };
//! A rotor is known by the millimetres stamped on it, where somebody told them; else they are those of its kind.
export const rotor_told = (r: { diameter_mm: number; diameter_given?: boolean }): string => (r.diameter_given ? `stamped ${Math.round(r.diameter_mm)} mm` : `about ${Math.round(r.diameter_mm)} mm, not told`);
export const rotors_told = (front: Parameters<typeof rotor_told>[0], rear: Parameters<typeof rotor_told>[0]): string =>
  front.diameter_given && rear.diameter_given ? `rotors stamped ${Math.round(front.diameter_mm)} and ${Math.round(rear.diameter_mm)} mm` : `rotors: front ${rotor_told(front)}; rear ${rotor_told(rear)}`;
export const actuation_words: Record<string, string> = { hydraulic: 'hydraulic', cable: 'cable', cable_to_hydraulic: 'cable to hydraulic' };
export const compound_words: Record<string, string> = { organic: 'organic (resin)', semi_metallic: 'semi-metallic', sintered: 'sintered' };
export const altitude_words: Record<Ride['altitude_source'], string> = { barometric: 'height from a barometer', satellite: 'height from satellites', terrain: 'height from a model of the terrain', none: 'no height known' };
export const surface_words: Record<string, string> = { dry: 'dry', wet: 'wet', gravel: 'on gravel', loose: 'on loose ground' };
const which_words = { both: 'both brakes', front: 'the front brake alone', rear: 'the rear brake alone' } as const;
const limit_words: Record<Stop['limited_by'], string> = {
  lever_force: 'The hand sets the limit: a harder squeeze than it has would be needed.',
  front_grip: 'The front tyre runs out of grip first. A front wheel that locks is a fall.',
  rear_grip: 'The rear tyre runs out of grip. Squeezing harder only makes it skid.',
  rear_lift: 'The rear wheel lifts first.',
  fade: 'Heat sets the limit: the hot brake fades.',
  skill: 'Ordinary skill sets the distance, not the brake.',
  lever_travel: 'The lever reaches the bar first.',
  does_not_stop: 'It does not stop.',
};

export type Said = { sentence: string; more: string[] };

export const stop_label = (s: Stop): string => `${s.brakes}, ${surface_words[s.surface] ?? s.surface}`;

export function stop_said(answer: Answer, system: System): Said {
  if (answer.verdict.do_not_ride) return { sentence: 'No distance while the bike is held back.', more: ['Clear the reasons above first.'] };
  const first = answer.stops.find((s) => s.brakes === 'both') ?? answer.stops[0];
  if (!first) return { sentence: 'Nothing is known of its stops yet.', more: [] };
  const at = `From ${with_unit(first.from_mps, 'speed_mps', system, 2)}${first.grade ? ` on ${percent(Math.abs(first.grade))} ${first.grade < 0 ? 'downhill' : 'uphill'}` : ' on the level'}, ${surface_words[first.surface]}, with ${which_words[first.brakes]}`;
  if (first.limited_by === 'does_not_stop' || !first.room_needed_m || !first.brake_distance_m)
    return { sentence: `${at}: it may not stop.`, more: [limit_words[first.limited_by]] };
  const room = number_text(first.room_needed_m.p95, 'room_m', system, 2);
  const more = [limit_words[first.limited_by]];
  if (first.not_stopping_share) more.push(`It does not stop in ${percent(first.not_stopping_share)} of the likely cases.`);
  if (first.hand_force_N && first.cold_hand_force_N)
    more.push(`The squeeze needed is ${interval_text(first.lever_force_N, 'force_N', system)}; this hand has about ${interval_text(first.hand_force_N, 'force_N', system)}, cold and in gloves ${interval_text(first.cold_hand_force_N, 'force_N', system)}.`);
  return { sentence: `${at}: leave ${room} ${unit_of('room_m', system)} of room.`, more: [`With reaction ${interval_text(first.room_needed_m, 'room_m', system)}, of which the brakes take ${interval_text(first.brake_distance_m, 'room_m', system)}. The first figure is the long end; judge by that one.`, ...more] };
}

//! The same for stops that were asked about on their own page.
export function stop_asked_said(report: StopReport, system: System): Said {
  const stops = report.stops.map(as_stop);
  return stop_said({ verdict: report.verdict, stops } as unknown as Answer, system);
}

//! A stop of stop/1 as one of answer/1: an interval with a point missing is none.
export const as_stop = (s: StopTold): Stop => ({
  ...s, brake_distance_m: whole_interval(s.brake_distance_m), room_needed_m: whole_interval(s.room_needed_m), deceleration_mps2: whole_interval(s.deceleration_mps2) ?? nowhere,
  lever_force_N: whole_interval(s.lever_force_N) ?? nowhere, hand_force_N: whole_interval(s.hand_force_N) ?? undefined, cold_hand_force_N: whole_interval(s.cold_hand_force_N) ?? undefined,
} as Stop);
const nowhere = { p05: NaN, p50: NaN, p95: NaN };

export const limit_of = (s: Stop): string => limit_words[s.limited_by];

export function hottest(rides: Ride[]): { ride: Ride; wheel: WheelName; rotor: Wheel } | null {
  let best: { ride: Ride; wheel: WheelName; rotor: Wheel } | null = null;
  for (const ride of rides)
    for (const wheel of ['front', 'rear'] as const) {
      const rotor = ride.wheels[wheel];
      if (rotor.rotor_peak_degC && (!best || rotor.rotor_peak_degC.p50 > (best.rotor.rotor_peak_degC?.p50 ?? -Infinity))) best = { ride, wheel, rotor };
    }
  return best;
}

export function ride_name(ride: { file: string; start_time: string | null; planned?: boolean }): string {
  const stem = ride.file.replace(/\.[a-z]+(\.gz)?$/i, '');
  return ride.start_time ? `${stem}, ${day_text(ride.start_time)}` : stem;
}

export function heat_said(answer: Answer, system: System, only?: Ride): Said {
  const rides = only ? [only] : answer.rides;
  const withheld = rides.find((r) => r.heat_withheld)?.heat_withheld;
  const top = hottest(rides);
  if (!top) return { sentence: withheld ? 'Temperatures are withheld.' : 'No ride yet, so nothing to heat the brakes.', more: [withheld ?? 'Add a ride as a recorder wrote it, or answer six questions.'] };
  const { ride, wheel, rotor } = top;
  const more: string[] = [];
  if (rotor.fluid_peak_degC) {
    const boil = rotor.fluid_boil_probability;
    more.push(`Fluid up to ${interval_text(rotor.fluid_peak_degC, 'temperature_degC', system)}. ${boil === null || boil === undefined ? 'Whether it boils is not known: which fluid it is was not told, or nobody published its boiling point.' : boil > 0 ? `It boils in ${percent(boil)} of the likely cases.` : 'It boils in none of the likely cases.'}`);
  }
  if (rotor.fade_probability !== null) more.push(rotor.fade_probability > 0 ? `The brake fades in ${percent(rotor.fade_probability)} of the likely cases.` : 'The brake fades in none of the likely cases.');
  if (rotor.lever_force_factor) more.push(`Hot, the lever asks for ${interval_text(rotor.lever_force_factor, 'plain', system)} times the cold squeeze.`);
  if (rotor.rotor_under_pad_peak_degC) more.push(`Where it leaves the pad its hottest ring reaches ${interval_text(rotor.rotor_under_pad_peak_degC, 'temperature_degC', system)}.`);
  if (rotor.hold_lever_force_N && rotor.hold_lever_force_N.p95 > 0)
    more.push(`Its hardest 10 s ask for a squeeze of ${interval_text(rotor.hold_lever_force_N, 'force_N', system)}${rotor.hold_lever_force_cold_N ? `, cold ${interval_text(rotor.hold_lever_force_cold_N, 'force_N', system)}` : ''}${(rotor.hold_outside_measured_probability ?? 0) >= 0.05 ? '; outside what was measured of pads' : ''}.`);
  if ((rotor.outside_measured_share ?? 0) > 0.01) more.push(`${percent(rotor.outside_measured_share!)} of its braking was done with pads above ${with_unit(277, 'temperature_degC', system)}: outside what was measured for pad friction.`);
  if ((rotor.above_measured_power_share ?? 0) > 0.01) more.push(`${percent(rotor.above_measured_power_share!)} of its braking took more than 400 W, the most at which pad friction was measured: outside what was measured.`);
  if (answer.front_share) more.push(answer.front_share.text);
  more.push(...(answer.read_temperatures ?? []));
  return {
    sentence: `The ${wheel} rotor ${ride.planned ? 'would get' : 'got'} to about ${with_unit(rotor.rotor_peak_degC!.p50, 'temperature_degC', system)}, between ${number_text(rotor.rotor_peak_degC!.p05, 'temperature_degC', system)} and ${number_text(rotor.rotor_peak_degC!.p95, 'temperature_degC', system)}${only ? '' : `, on ${ride_name(ride)}`}.`,
    more,
  };
}

//! Whether a sentence of a ride is about the wind that was told, and not a fault of the recording.
export const about_wind = (text: string): boolean => text.startsWith('Wind taken as told') || text.startsWith('The wind was told') || text.startsWith('The wind as told');

//! What a wind told for all rides did: on how many it counts, then of each ride what the program says of it.
export function wind_said(answer: Answer): string[] {
  const each = answer.rides.flatMap((ride) => ride.faults.filter((f) => about_wind(f.text)).map((f) => ({ ride, text: f.text })));
  const used = each.filter((e) => e.text.startsWith('Wind taken as told')).length;
  if (!each.length) return [];
  const many = answer.rides.length;
  return [many === 1 ? (used ? 'The wind counts on this ride.' : 'The wind counts on no ride.') : `The wind counts on ${used === many ? 'all' : used || 'none'} of the ${many} rides.`, ...each.map((e) => `${ride_name(e.ride)}: ${e.text}`)];
}

export type LifeRow = { label: string; km: { p05: number; p50: number; p95: number }; look_by: string | null; look_by_km: number | null; capped: boolean; limit: string };
export const cap_km = 100_000;   // the answer's own end of counting

export function life_rows(life: { front: LifeEnd; rear: LifeEnd }): LifeRow[] {
  const rows: LifeRow[] = [];
  for (const wheel of ['front', 'rear'] as const)
    for (const part of ['pad', 'rotor'] as const) {
      const end = life[wheel]?.[part];
      if (end) rows.push({ label: `${wheel} ${part === 'pad' ? 'pads' : 'rotor'}`, km: end.remaining_km, look_by: end.look_by ?? null, look_by_km: end.look_by_km ?? null, capped: end.capped ?? false, limit: end.limit ?? '' });
    }
  return rows;
}

export function life_said(answer: Answer, system: System): Said {
  if (answer.verdict.do_not_ride) return { sentence: 'No life is given while the bike is held back.', more: [] };
  const rows = life_rows(answer.life);
  if (!rows.length) return { sentence: 'How much is left is not known yet.', more: [answer.life_withheld ?? 'A reading of the pads and one ride are enough to begin.'] };
  // What goes first, by the middle; what wants the first look, by the far tail. They need not be the same part.
  const first = rows.reduce((a, b) => (b.km.p50 < a.km.p50 ? b : a));
  const look = rows.reduce((a, b) => ((b.look_by_km ?? b.km.p05) < (a.look_by_km ?? a.km.p05) ? b : a));
  const km = (v: number) => number_text(v * 1000, 'ride_m', system, 2);
  return {
    sentence: `The ${first.label} go first: about ${km(first.km.p50)} ${unit_of('ride_m', system)} of riding like this, between ${km(first.km.p05)} and ${first.km.p95 >= cap_km ? 'over ' : ''}${km(first.km.p95)}.`.replace('rotor go first', 'rotor goes first'),
    more: look.look_by ? [`Look at the ${look.label} by ${day_text(look.look_by)}${look.look_by_km ? `, or after ${km(look.look_by_km)} ${unit_of('ride_m', system)}` : ''}: until then the chance of being past the limit is at most 1 in 200.`] : [],
  };
}

export function condition_said(v: Verdict): Said {
  const left = v.checks_total - v.checks_done;
  if (v.do_not_ride) return { sentence: 'There is a reason not to ride today. It stands at the top.', more: [] };
  return {
    sentence: v.state === 'no_reason_found' ? `No reason found in ${v.checks_done} of ${v.checks_total} checks.` : v.text ?? verdict_words(v),
    more: left > 0 ? [`${left} of ${v.checks_total} checks were not done. What was not looked at is not cleared.`] : [],
  };
}

//! Which assumptions stand behind which question.
export function assumed_for(answer: Answer, question: 'stop' | 'heat' | 'life'): Assumed[] {
  const of: Record<string, RegExp> = {
    stop: /\.stop\.|^surface\.|\.friction$|centre_of_mass|\.lever\.|arm_ratio|wheelbase|rider\.hand/,
    heat: /\.heat\.|^bike\.(drag|rolling|efficiency|front_share|wheel_inertia)|^ride\.|^sharing\.|rotor\.(band|solid)/,
    life: /\.wear\.|^riding\.|\.pads\./,
  };
  return answer.assumed.filter((a) => of[question]!.test(a.key) && a.grade !== 'measured');
}

export const grade_words: Record<string, string> = {
  measured: 'measured', published: 'published', published_from_memory: 'published, from memory', common_practice: 'common practice', assumed: 'assumed',
};

//! "bike.drag_area_m2" -> "bike, drag area"
export const key_words = (key: string): string =>
  key.replace(/_(\d+)K$/, (_, K: string) => `_at_${Math.round(Number(K) - 273.15)}\u00a0°C`).replace(/_(m2|kgm2|mm2|m_km|mm|cm|m|kg|N|degC|mps|W|J|months)$/, '').replace(/_/g, ' ').replace(/\./g, ', ');

export function value_words(a: Assumed, system: System): string {
  if (a.value === null) return 'not known';
  if (typeof a.value === 'string') return a.value.replace(/_/g, ' ');
  const digits = (v: number) => Number(v.toPrecision(3)).toString();
  return in_units(`${digits(a.value)}${a.sd ? ` ± ${digits(a.sd)}` : ''}${a.unit && a.unit !== '1' ? ` ${a.unit}` : ''}`, system);
}

export function ride_small(r: { distance_m: number | null; descent_m?: number | null; duration_s?: number | null }, system: System): string {
  const parts: string[] = [];
  if (r.distance_m !== null) parts.push(with_unit(r.distance_m, 'ride_m', system));
  if (r.descent_m) parts.push(`${with_unit(r.descent_m, 'height_m', system)} down`);
  if (r.duration_s) parts.push(duration_text(r.duration_s));
  return parts.join(' · ');
}

//! Order on the stand: held back first, then what must be replaced, then by the next thing due.
export function stand_order(bikes: StandBike[]): StandBike[] {
  const rank = (b: StandBike) => (b.held || b.verdict.do_not_ride || b.verdict.state === 'held_back' ? 0 : b.verdict.state === 'replace' ? 1 : 2);
  return [...bikes].sort((a, b) => rank(a) - rank(b) || (a.look_by ?? '9999').localeCompare(b.look_by ?? '9999') || a.name.localeCompare(b.name));
}

/** What is to be looked at: before the next ride, and next after that by day, or by way where no day is known. One look is at both pads of a wheel. */
export function looks_of(report: Pick<LifeReport, 'parts' | 'pads'>): { at_once: LifePart[]; first: LifePart | null } {
  const pads = [report.pads?.front, report.pads?.rear].filter((p): p is LifePart => !!p);
  const all = [...pads, ...(report.parts ?? []).filter((p) => !pads.length || /rotor/.test(p.component ?? p.name ?? ''))];
  const at_once = all.filter((p) => p.limit_reached_probability > 0.005 || (p.look_by !== null && p.look_by.rides < 1));
  const sooner = (a: LifePart, b: LifePart) => (a.look_by?.date && b.look_by?.date && a.look_by.date !== b.look_by.date ? (a.look_by.date < b.look_by.date ? -1 : 1) : a.look_by!.km - b.look_by!.km);
  return { at_once, first: all.filter((p) => p.look_by && !at_once.includes(p)).sort(sooner)[0] ?? null };
}
