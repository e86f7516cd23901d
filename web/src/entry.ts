// SPDX-License-Identifier: Apache-2.0
// What a reading asks, one question a screen. Pure: the page only shows it.                                Layer: web
import type { Quantity, ReadingEntry, WheelName } from './wire';

export type Step =
  | { kind: 'number'; key: string; ask: string; hint: string; may_skip: boolean }
  | { kind: 'choice'; key: 'with_plate' | 'anvil'; ask: string; hint: string; choices: { value: string; text: string; small: string }[] }
  | { kind: 'dial' };

export type What = { quantity: Quantity; text: string; small: string; steps: (wheel: WheelName) => Step[] };

const number = (key: string, ask: string, hint = '', may_skip = false): Step => ({ kind: 'number', key, ask, hint, may_skip });
const plate: Step = {
  kind: 'choice', key: 'with_plate', ask: 'Is that with the plate?', hint: 'The plate is the steel behind the friction material. Over both is the easier reading; then the plate is taken off.',
  choices: [{ value: 'yes', text: 'Yes, over both', small: 'plate and friction material' }, { value: 'no', text: 'No', small: 'friction material alone' }],
};
const anvil: Step = {
  kind: 'choice', key: 'anvil', ask: 'What touched the rotor?', hint: 'Flat jaws rest on the unworn rim of a worn rotor and read too much.',
  choices: [{ value: 'pointed', text: 'Points', small: 'they reach into the worn band' }, { value: 'flat_jaws', text: 'Flat jaws', small: 'they may bridge the band' }],
};

//! What can be read at the bench, most often first.
export const whats: What[] = [
  {
    quantity: 'pad_thickness', text: 'pads', small: 'thickness left',
    steps: (wheel) => [
      number('left', `Left ${wheel} pad, thinnest corner`, 'Left as you sit on the bike.', true),
      number('right', `Right ${wheel} pad, thinnest corner`, 'Right as you sit on the bike.', true), plate,
    ],
  },
  { quantity: 'rotor_thickness', text: 'rotor', small: 'thickness of the band', steps: (wheel) => [number('value', `${wheel === 'front' ? 'Front' : 'Rear'} rotor, thinnest place`, 'Look at several places; the thinnest counts.'), anvil] },
  { quantity: 'lever_bite', text: 'bite point', small: 'bar to lever, as it bites', steps: (wheel) => [number('value', `${wheel === 'front' ? 'Front' : 'Rear'} lever: distance to the bar where the pads bite`, 'Where the finger pulls, to the bar’s surface.')] },
  { quantity: 'lever_full', text: 'full squeeze', small: 'bar to lever, hard', steps: (wheel) => [number('value', `${wheel === 'front' ? 'Front' : 'Rear'} lever: distance left to the bar in a hard squeeze`, 'Hold it for ten seconds; a lever that keeps sinking must not be ridden.')] },
  { quantity: 'lever_reach', text: 'lever at rest', small: 'bar to lever', steps: (wheel) => [number('value', `${wheel === 'front' ? 'Front' : 'Rear'} lever: distance to the bar at rest`)] },
  { quantity: 'run_out', text: 'run-out', small: 'dial around the rotor', steps: () => [{ kind: 'dial' }] },
  { quantity: 'bearing_play', text: 'bearing play', small: 'rock the wheel, dial on the rotor', steps: (wheel) => [number('value', `${wheel === 'front' ? 'Front' : 'Rear'} wheel: how far does the dial move as you rock it?`, 'Dial on the rotor’s band; hold the wheel by the rotor and rock it across. From end to end, the most of several.')] },
  { quantity: 'plate_thickness', text: 'plate', small: 'steel alone', steps: (wheel) => [number('value', `Plate of the ${wheel} pads, without friction material`, 'The worn pad’s own plate is best, where no friction material covers it.')] },
];

export type Given = Record<string, string>;
export type DialPoint = { angle_deg: number; value_mm: number };

//! The entry for what was given, or null while nothing was read. `mm` holds the numbers by their step's key.
export function entry_of(what: What, wheel: WheelName, mm: Record<string, number>, given: Given, dial: DialPoint[], by: string, instrument: string | null, entry_id: string): ReadingEntry | null {
  const base = { place: wheel, quantity: what.quantity, by, entry_id, ...(instrument ? { instrument } : {}) };
  if (what.quantity === 'run_out') {
    if (dial.length < 4) return null;   // fewer cannot be judged
    const sorted = [...dial].sort((a, b) => a.angle_deg - b.angle_deg);
    return { ...base, values: sorted.map((p) => p.value_mm), angles_deg: sorted.map((p) => p.angle_deg) };
  }
  const values: number[] = [];
  const sides: ('left' | 'right' | null)[] = [];
  for (const key of ['left', 'right', 'value'] as const)
    if (mm[key] !== undefined) {
      values.push(mm[key]);
      sides.push(key === 'value' ? null : key);
    }
  if (!values.length) return null;
  return {
    ...base, values,
    ...(what.quantity === 'pad_thickness' ? { sides } : {}),
    ...(given.with_plate ? { with_plate: given.with_plate as 'yes' | 'no' } : {}),
    ...(given.anvil ? { anvil: given.anvil as 'pointed' | 'flat_jaws' } : {}),
  };
}

//! Angles of a dial reading at n places, from 0 at the valve.
export const dial_angles = (n: number): number[] => Array.from({ length: n }, (_, i) => Math.round((360 / n) * i * 100) / 100);
