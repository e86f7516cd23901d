// SPDX-License-Identifier: Apache-2.0
// Proof stops as they are counted beside the road: checked, timed, kept in the browser until they are used.  Layer: web
import { typed_number, type System } from './units';
import type { ProofStop } from './wire';

export type Typed = { speed: string; distance: string; force: string };

//! One stop from what was typed, or what is wrong with it. Speeds in km/h or mph, distances in m or ft, squeeze in N or lbf.
export function proof_stop(typed: Typed, wheel: ProofStop['wheel'], seconds: number | null, day: string, system: System, grade = 0): ProofStop | string {
  const metric = system === 'metric';
  const figure = (text: string, what: string, least: number, most: number, unit: string, factor: number): number | string => {
    const t = typed_number(text);
    if ('error' in t) return `${what}: ${t.error}`;
    if (t.value < least || t.value > most) return `${what}: ${t.value} ${unit} is out of range; expected ${least} to ${most}.`;
    return t.value * factor;
  };
  const speed = figure(typed.speed, 'Speed', metric ? 5 : 3, metric ? 60 : 37, metric ? 'km/h' : 'mph', metric ? 1 / 3.6 : 1609.344 / 3600);
  if (typeof speed === 'string') return speed;
  const distance = figure(typed.distance, 'Distance', metric ? 0.5 : 1.6, metric ? 100 : 330, metric ? 'm' : 'ft', metric ? 1 : 0.3048);
  if (typeof distance === 'string') return distance;
  const force = typed.force.trim() ? figure(typed.force, 'Squeeze', metric ? 5 : 1, metric ? 400 : 90, metric ? 'N' : 'lbf', metric ? 1 : 4.4482216) : null;
  if (typeof force === 'string') return force;
  return { date: day, wheel, from_mps: speed, distance_m: distance, time_s: seconds, lever_force_N: force, surface: 'dry', grade };
}

type Store = Pick<Storage, 'getItem' | 'setItem'>;
const key = (bike: string) => `brakewright.proof.${bike}`;
export function kept_stops(store: Store, bike: string): ProofStop[] {
  try {
    const all: unknown = JSON.parse(store.getItem(key(bike)) ?? '[]');
    return Array.isArray(all) ? all.filter((s): s is ProofStop => typeof s?.from_mps === 'number' && typeof s.distance_m === 'number' && typeof s.wheel === 'string') : [];
  } catch {
    return [];
  }
}
export function keep_stops(store: Store, bike: string, all: ProofStop[]): void {
  try {
    store.setItem(key(bike), JSON.stringify(all));
  } catch {
    // A full or forbidden store: the open page still holds them.
  }
}
