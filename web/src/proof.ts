// SPDX-License-Identifier: Apache-2.0
// Proof stops as they are counted beside the road, and those that only a browser holds.                    Layer: web
import { new_id } from './ids';
import { is_proof, type Waiting } from './queue';
import { typed_number, type System } from './units';
import type { ProofEntry, ProofPage, ProofStop, RecordedEntry, RecordedStops, WheelName } from './wire';

//! A stop of one brake alone: with both it tells neither, and these pages never counted such a one.
export type OneBrakeStop = ProofStop & { wheel: WheelName };
export type Typed = { speed: string; distance: string; force: string };

const figure = (text: string, what: string, least: number, most: number, unit: string, factor: number): number | string => {
  const t = typed_number(text);
  if ('error' in t) return `${what}: ${t.error}`;
  if (t.value < least || t.value > most) return `${what}: ${t.value} ${unit} is out of range; expected ${least} to ${most}.`;
  return t.value * factor;
};
const squeeze = (text: string, system: System): number | string | null =>
  text.trim() ? figure(text, 'Squeeze', system === 'metric' ? 5 : 1, system === 'metric' ? 400 : 90, system === 'metric' ? 'N' : 'lbf', system === 'metric' ? 1 : 4.4482216) : null;

//! One stop from what was typed, or what is wrong with it. Speeds in km/h or mph, distances in m or ft, squeeze in N or lbf.
export function proof_stop(typed: Typed, wheel: WheelName, seconds: number | null, system: System, grade = 0): OneBrakeStop | string {
  const metric = system === 'metric';
  const speed = figure(typed.speed, 'Speed', metric ? 5 : 3, metric ? 60 : 37, metric ? 'km/h' : 'mph', metric ? 1 / 3.6 : 1609.344 / 3600);
  if (typeof speed === 'string') return speed;
  const distance = figure(typed.distance, 'Distance', metric ? 0.5 : 1.6, metric ? 100 : 330, metric ? 'm' : 'ft', metric ? 1 : 0.3048);
  if (typeof distance === 'string') return distance;
  const force = squeeze(typed.force, system);
  if (typeof force === 'string') return force;
  if (seconds !== null && (seconds < 0.1 || seconds > 100)) return `Time: ${seconds} s is out of range; expected 0.1 to 100 s. Time the next one, or count this one without its time.`;
  return { wheel, from_mps: speed, distance_m: distance, time_s: seconds, lever_force_N: force, surface: 'dry', grade };
}

//! How the way was measured, and where on the lever the scale pulled: stops with other leverages do not compare.
export type Measured = { way?: 'taped' | 'paced'; lever_place_mm?: number; answers?: Record<string, string> };
//! What was typed for the marked place, in mm or inches from the lever's tip; nothing typed: not told.
export function lever_place(typed: string, system: System): number | null | string {
  if (!typed.trim()) return null;
  const t = typed_number(typed);
  if ('error' in t) return `Marked place: ${t.error}`;
  const mm = system === 'metric' ? t.value : t.value * 25.4;
  return mm >= 0 && mm <= 150 ? mm : `Marked place: ${t.value} is out of range; expected 0 to 150 mm from the lever’s tip.`;
}

//! The stop as it goes into the papers. Without a date it is of the day on which the service gets it.
export const entry_of_stop = (stop: OneBrakeStop, by: string, entry_id: string, measured: Measured = {}): ProofEntry => ({ ...stop, by, entry_id, ...measured });

// Stops that a browser kept before the papers did. They stay in it until the papers hold them.
export type OldStop = OneBrakeStop & { date: string; entry_id: string };
type Store = Pick<Storage, 'getItem' | 'setItem'>;
const key = (bike: string) => `brakewright.proof.${bike}`;
const declined_key = (bike: string) => `brakewright.proof_declined.${bike}`;
const put = (store: Store, at: string, text: string): void => {
  try {
    store.setItem(at, text);
  } catch {
    // A full or forbidden store: what it holds stays as it was.
  }
};
const is_stop = (x: unknown): x is OneBrakeStop => {
  const s = x as OneBrakeStop | null;
  return typeof s === 'object' && s !== null && typeof s.from_mps === 'number' && typeof s.distance_m === 'number' && (s.wheel === 'front' || s.wheel === 'rear') && typeof s.date === 'string';
};

//! Each gets its entry_id at first sight, and keeps it: sent twice, by two pages too, it is stored once.
export function old_stops(store: Store, bike: string, make_id: () => string = new_id): OldStop[] {
  let all: unknown;
  try {
    all = JSON.parse(store.getItem(key(bike)) ?? '[]');
  } catch {
    return [];
  }
  if (!Array.isArray(all)) return [];
  const named = all.map((s: unknown) => (is_stop(s) && typeof (s as Partial<OldStop>).entry_id !== 'string' ? { ...s, entry_id: make_id() } : (s as unknown)));
  if (named.some((s, i) => s !== all[i])) put(store, key(bike), JSON.stringify(named));
  return named.filter(is_stop) as OldStop[];
}
//! Takes those out that the papers hold.
export function forget_kept(store: Store, bike: string, kept: ProofPage['stops']): void {
  const ids = new Set(kept.map((s) => s.id));
  const all = old_stops(store, bike);
  if (all.some((s) => ids.has(s.entry_id))) put(store, key(bike), JSON.stringify(all.filter((s) => !ids.has(s.entry_id))));
}
export const declined = (store: Store, bike: string): boolean => {
  try {
    return store.getItem(declined_key(bike)) === 'yes';
  } catch {
    return false;
  }
};
export const decline = (store: Store, bike: string): void => put(store, declined_key(bike), 'yes');

//! Stops that neither the papers nor the queue hold.
export function left_in_browser(old: OldStop[], kept: ProofPage['stops'], queue: Waiting[]): OldStop[] {
  const there = new Set([...kept.map((s) => s.id), ...queue.map((w) => w.entry.entry_id)]);
  return old.filter((s) => !there.has(s.entry_id));
}
//! What goes with a job: no stop that the papers hold, or will hold when the queue is sent, for the job takes those from the papers.
export const stops_for_job = (left: OldStop[]): ProofStop[] => left.map(({ entry_id: _, ...stop }) => stop);
export const waiting_stops = (queue: Waiting[], bike: string): ProofEntry[] => queue.flatMap((w) => (w.bike === bike && is_proof(w.entry) ? [w.entry] : []));

//! Stops of a recorded ride as they go into the papers, or what is left open: no recording says brake, surface or squeeze.
export type RecordedChoice = { wheel: WheelName | null; surface: RecordedEntry['surface'] | ''; day: string; place: string; squeezes: ReadonlyMap<number, string> };
export function recorded_entry(list: RecordedStops, choice: RecordedChoice, by: string, system: System): RecordedEntry | string {
  if (!choice.squeezes.size) return 'Tick the stops that were braked with one brake alone.';
  if (!choice.wheel) return 'Which brake was pulled alone? The recording does not say.';
  if (!choice.surface) return 'On which surface? A wet brake gives less, and taken for a dry one it would raise an alarm.';
  const day = choice.day.trim();
  if (day && !/^\d{4}-\d{2}-\d{2}$/.test(day)) return `Day: ${day}: expected a day as 2026-05-01.`;
  if (!day && !list.day) return 'On which day? The recording states none.';
  const stops: RecordedEntry['stops'] = [];
  for (const [number, typed] of [...choice.squeezes].sort(([a], [b]) => a - b)) {
    const force = squeeze(typed, system);
    if (typeof force === 'string') return `Stop ${number}. ${force}`;
    stops.push({ number, lever_force_N: force });
  }
  const mark = stops.some((s) => s.lever_force_N !== null) ? lever_place(choice.place, system) : null;
  if (typeof mark === 'string') return mark;
  return { by, ride: list.ride, wheel: choice.wheel, surface: choice.surface, stops, ...(day ? { day } : {}), ...(mark !== null ? { lever_place_mm: mark } : {}) };
}
