// SPDX-License-Identifier: Apache-2.0
// Both rotors at one moment of a ride, in the colours of heated steel, values printed.                    Layer: web, figures
import { ink_on_steel, steel_colour, steel_colours, steel_from_degC, steel_names, steel_step_K } from '../palette';
import { converted, number_text, unit_of, type System } from '../units';
import { steel_note } from './heat_peaks';
import { el, sheet_of, type Figure } from './figure';

export type RotorNow = { wheel: 'front' | 'rear'; degC: number | null; diameter_mm: number; band_inner_mm: number };

export function rotors_figure(rotors: RotorNow[], at: string, system: System): Figure {
  const words = (r: RotorNow) => (r.degC === null ? 'not known' : `${number_text(r.degC, 'temperature_degC', system)} ${unit_of('temperature_degC', system)}`);
  return {
    id: 'rotors',
    title: `The rotors, ${at}`,
    says: rotors.map((r) => `${r.wheel} rotor ${words(r)}`).join(', '),
    caption: `Mean of the braking band, ${at}. ${steel_note}`,
    interval: 'The middle of the likely cases; the ring where most heat is made is hotter by some degrees.',
    assumptions: ['Middle of the likely cases, mean of the braking band.'], sources: ['The recording, through the models of motion and heat (docs/models).'],
    table: { head: ['rotor', 'mean of the band'], rows: rotors.map((r) => [r.wheel, words(r)]) },
    draw: (width) => {
      const w = Math.min(width, 460), r_max = Math.min(78, w / 4 - 12);
      const largest = Math.max(...rotors.map((r) => r.diameter_mm), 100);
      const out: SVGElement[] = [];
      rotors.forEach((rotor, i) => {
        const cx = w * (i === 0 ? 0.25 : 0.75), cy = r_max + 8, k = r_max / (largest / 2);
        out.push(el('circle', { cx, cy, r: (rotor.diameter_mm / 2) * k, fill: rotor.degC === null ? 'none' : steel_colour(rotor.degC), stroke: 'var(--ink)' }));
        out.push(el('circle', { cx, cy, r: (rotor.band_inner_mm / 2) * k, fill: 'var(--paper)', stroke: 'var(--ink)' }));
        out.push(el('text', { x: cx, y: cy, 'text-anchor': 'middle', 'font-size': 20, 'font-weight': 650 }, rotor.degC === null ? '?' : number_text(rotor.degC, 'temperature_degC', system)));
        out.push(el('text', { x: cx, y: cy + 18, 'text-anchor': 'middle', fill: 'var(--soft)', 'font-size': 12 }, `${unit_of('temperature_degC', system)}, ${rotor.wheel}`));
      });
      const y = 2 * r_max + 30, step = (w - 12) / steel_colours.length;
      steel_colours.forEach((fill, i) => {
        const degC = steel_from_degC + i * steel_step_K;
        out.push(el('rect', { x: 6 + i * step, y, width: step, height: 18, fill }));
        out.push(el('text', { x: 6 + (i + 0.5) * step, y: y + 13, 'text-anchor': 'middle', 'font-size': 11.5, fill: ink_on_steel(degC) }, w < 400 ? '' : steel_names[i] as string));
        out.push(el('text', { x: 6 + i * step, y: y + 34, 'text-anchor': i === 0 ? 'start' : 'middle', fill: 'var(--soft)', 'font-size': 12 }, String(Math.round(converted(degC, 'temperature_degC', system)))));
      });
      return sheet_of(w, y + 42, ...out);
    },
  };
}
