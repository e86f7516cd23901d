// SPDX-License-Identifier: Apache-2.0
// What a figure is: drawn from typed data at a width, with what must stand beside it wherever it goes.      Layer: web, figures
import * as Plot from '@observablehq/plot';
import type { Interval } from '../units';

export type Figure = {
  id: string;            // also the name of a saved file
  title: string;
  says: string;          // what somebody hears who cannot see it
  caption: string;
  interval: string;      // what the bands mean
  claims?: string[];     // each with the share of the likely cases in which it holds
  assumptions: string[];
  sources: string[];
  //! Fresh SVG, `width` px wide. No inline style: the page's policy forbids it.
  draw: (width: number) => SVGSVGElement;
  table: { head: string[]; rows: string[][] };
};

export const interval_note = 'Bands run from the 5 to the 95 % point of the likely cases; the firm line is their middle.';

const svg_space = 'http://www.w3.org/2000/svg';
type Attributes = Record<string, string | number>;

export function el<K extends keyof SVGElementTagNameMap>(name: K, attributes: Attributes = {}, ...children: (SVGElement | string)[]): SVGElementTagNameMap[K] {
  const e = document.createElementNS(svg_space, name);
  for (const [key, value] of Object.entries(attributes)) e.setAttribute(key, typeof value === 'number' ? String(Math.round(value * 100) / 100) : value);
  e.append(...children);
  return e;
}

export function sheet_of(width: number, height: number, ...children: SVGElement[]): SVGSVGElement {
  return el('svg', { class: 'drawing', width, height, viewBox: `0 0 ${Math.round(width)} ${Math.round(height)}`, 'font-size': 12.5, fill: 'var(--ink)' }, ...children);
}

//! Lines of at most `letters` letters, broken at blanks.
export function wrapped(text: string, letters: number): string[] {
  const lines: string[] = [];
  for (const word of text.split(/\s+/).filter(Boolean)) {
    const last = lines[lines.length - 1];
    if (last !== undefined && last.length + 1 + word.length <= letters) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  return lines;
}

let serial = 0;
export const fresh_id = (stem: string): string => `${stem}-${++serial}`;

//! A band that fades towards both ends and is firmest at `middle` (0 to 1 along it).
export function blur_gradient(id: string, colour: string, middle: number, strength = 0.75): SVGLinearGradientElement {
  const stop = (offset: number, opacity: number) => el('stop', { offset: Math.min(1, Math.max(0, offset)), 'stop-color': colour, 'stop-opacity': opacity });
  return el('linearGradient', { id, x1: 0, x2: 1, y1: 0, y2: 0 }, stop(0, 0.08), stop(middle, strength), stop(1, 0.08));
}

//! An edge as soft as the instrument: nothing, firm in the middle, nothing.
export function edge_gradient(id: string): SVGLinearGradientElement {
  const stop = (offset: number, opacity: number) => el('stop', { offset, 'stop-color': 'var(--ink)', 'stop-opacity': opacity });
  return el('linearGradient', { id, x1: 0, x2: 1, y1: 0, y2: 0 }, stop(0, 0), stop(0.5, 0.42), stop(1, 0));
}

//! Observable Plot without the style element that it writes: its two rules stand in sheet.css.
export function plot(options: Plot.PlotOptions): SVGSVGElement {
  const drawn = Plot.plot({ className: 'plot', ...options }) as SVGSVGElement;
  drawn.querySelector('style')?.remove();
  for (const g of drawn.querySelectorAll('[aria-label]')) g.removeAttribute('aria-label');   // one picture, one description: the figure's own
  drawn.removeAttribute('aria-label');
  drawn.classList.add('drawing');
  drawn.setAttribute('font-size', '12.5');
  return drawn;
}

export type BandRow = { label: string; value: Interval; colour: string };

//! Marks for rows of blurred bands with a firm middle. Rows share the y scale `label`; x is whatever unit `value` has.
export function band_marks(rows: BandRow[], log = false): Plot.Markish[] {
  const ids = rows.map(() => fresh_id('band'));
  const at = (v: number) => (log ? Math.log(Math.max(v, 1e-9)) : v);
  const defs = () =>
    el('defs', {}, ...rows.map((r, i) => blur_gradient(ids[i] as string, r.colour, (at(r.value.p50) - at(r.value.p05)) / Math.max(1e-9, at(r.value.p95) - at(r.value.p05)))));
  return [
    defs,
    ...rows.map((r, i) => Plot.barX([r], { x1: (d: BandRow) => d.value.p05, x2: (d: BandRow) => d.value.p95, y: 'label', fill: `url(#${ids[i]})`, insetTop: 5, insetBottom: 5 })),
    ...rows.map((r) => Plot.tickX([r], { x: (d: BandRow) => d.value.p50, y: 'label', stroke: r.colour, strokeWidth: 3, insetTop: 1, insetBottom: 1 })),
  ];
}

export const axis_style = { stroke: 'var(--line)', fill: 'var(--soft)' } as const;

//! Left margin that the longest row label needs, about 6.9 px a letter at 12.5 px.
export const margin_for = (labels: string[]): number => Math.ceil(Math.max(30, ...labels.map((l) => l.length * 6.9)) + 12);

//! Powers of ten from low to high, at most `most` of them: every second or third where there are more.
export function decades(low: number, high: number, most: number): number[] {
  const from = Math.ceil(Math.log10(low) - 1e-9), to = Math.floor(Math.log10(high) + 1e-9), step = Math.max(1, Math.ceil((to - from + 1) / Math.max(1, most)));
  return Array.from({ length: Math.max(0, Math.floor((to - from) / step) + 1) }, (_, i) => 10 ** (to - step * i)).reverse();
}
