// SPDX-License-Identifier: Apache-2.0
// What this browser remembers: units, the name that signs readings, the price of a set of pads. Nothing else.     Layer: web
import { in_units, with_days } from './said';
import type { System } from './units';

const read = (key: string): string => {
  try {
    return localStorage.getItem(`brakewright.${key}`) ?? '';
  } catch {
    return '';
  }
};
const write = (key: string, value: string): void => {
  try {
    localStorage.setItem(`brakewright.${key}`, value);
  } catch {
    // Remembered in the open page only.
  }
};

let system = $state<System>(read('units') === 'imperial' ? 'imperial' : 'metric');
let by = $state(read('by'));
let pad_price = $state(read('pad_price'));
export const settings = {
  get system() { return system; },
  set system(v: System) { system = v; write('units', v); },
  get pad_price() { return pad_price; },
  set pad_price(v: string) { pad_price = v; write('pad_price', v); },
  get by() { return by; },
  set by(v: string) { by = v; write('by', v); },
};

//! A sentence of the program in the units that are set here. Words of people are not put through this.
export const spoken = (text: string): string => in_units(with_days(text), system);
