// SPDX-License-Identifier: Apache-2.0
// A brake lever seen from above, its distances from the bar to scale: at rest, where it bites, where it is held; this hand's window.  Layer: web, figures
import { number_text, type Interval, type System } from '../units';
import { el } from './figure';

export type LeverPlaces = { reach_mm: number | null; bite_mm: Interval | null; full_mm: Interval | null; window_mm: [number, number] | null; full_words: string };

// What nobody measured of this lever, and which only gives the drawing its look: common practice, no source.
const length_mm = 85;    // pivot to where the finger pulls
const pivot_mm = 22;     // pivot ahead of the bar's surface
const bar_mm = 22;       // of the bar
const beyond_mm = 13;    // the lever's tip beyond the finger
export const lever_assumptions = [`The lever’s own length (${length_mm} mm from pivot to finger) and its pivot (${pivot_mm} mm ahead of the bar) are drawn as usual, not measured; the distances from the bar at the finger are to scale. Which hand has which brake is not told.`];
const left_mm = 16, right_mm = length_mm + beyond_mm;

//! Angle of the lever to the bar, radians, when its rear face is that far from the bar at the finger.
export function lever_angle(distance_mm: number): number {
  return Math.asin(Math.min(0.9, Math.max(-0.9, (distance_mm - pivot_mm) / length_mm)));
}
//! Labels no nearer to each other than `least`, each as near as can be to where it belongs; ascending.
export function parted(wanted: number[], least: number): number[] {
  const out = [...wanted];
  for (let i = 1; i < out.length; ++i) out[i] = Math.max(out[i]!, out[i - 1]! + least);
  const over = out.length ? out[out.length - 1]! - wanted[wanted.length - 1]! : 0;
  if (over > 0) {   // half of the push goes the other way
    for (let i = 0; i < out.length; ++i) out[i] = out[i]! - over / 2;
  }
  return out;
}

export type Drawn = { parts: SVGElement[]; width: number; height: number; scale: number };

//! px: width that may be used; life_px: pixels of a millimetre at life size, which the drawing never exceeds.
export function lever_drawn(places: LeverPlaces, x0: number, y0: number, px_wide: number, life_px: number, system: System): Drawn {
  const far_mm = Math.max(40, places.reach_mm ?? 0, places.bite_mm?.p95 ?? 0, places.window_mm?.[1] ?? 0) + 16;
  const label_room = 118;
  const scale = Math.max(0.8, Math.min(life_px, (px_wide - label_room) / (left_mm + right_mm)));
  const X = (mm: number) => x0 + (mm + left_mm) * scale, base = y0 + far_mm * scale, Y = (mm: number) => base - mm * scale;
  const at = (distance_mm: number, radius_mm: number, off_mm = 0): [number, number] => {
    const a = lever_angle(distance_mm);
    return [X(radius_mm * Math.cos(a) - off_mm * Math.sin(a)), Y(pivot_mm + radius_mm * Math.sin(a) + off_mm * Math.cos(a))];
  };
  const path = (points: [number, number][], closed = true) => points.map(([x, y], i) => `${i ? 'L' : 'M'}${x.toFixed(1)} ${y.toFixed(1)}`).join('') + (closed ? 'Z' : '');
  const parts: SVGElement[] = [];
  // This hand's window: where the finger is, between its near and its far end.
  if (places.window_mm) {
    const [a, b] = places.window_mm;
    const steps = Array.from({ length: 9 }, (_, i) => a + ((b - a) * i) / 8);
    parts.push(el('path', { d: path([...steps.map((s) => at(s, length_mm - 22)), ...steps.reverse().map((s) => at(s, length_mm + 8))]), fill: 'var(--pad)', stroke: 'none' }));
    for (const end of [a, b]) parts.push(el('path', { d: path([at(end, length_mm - 22), at(end, length_mm + 8)], false), stroke: 'var(--soft)', 'stroke-dasharray': '3 3', fill: 'none' }));
  }
  // The bar, the clamp, the pivot.
  parts.push(el('rect', { x: X(-left_mm), y: Y(0), width: (left_mm + right_mm) * scale, height: bar_mm * scale, fill: 'var(--plate)', stroke: 'var(--ink)' }));
  parts.push(el('text', { x: X(length_mm * 0.42), y: Y(-bar_mm / 2) + 4, 'text-anchor': 'middle', 'font-size': 12 }, 'bar'));
  parts.push(el('path', { d: path([[X(-9), Y(-bar_mm - 2)], [X(-9), Y(pivot_mm + 6)], [X(8), Y(pivot_mm + 6)], [X(8), Y(-bar_mm - 2)]]), fill: 'var(--steel)', stroke: 'var(--ink)' }));
  const outline = (d: number) => path([at(d, 4, -3), at(d, length_mm + beyond_mm - 4, 0), at(d, length_mm + beyond_mm, 3), at(d, length_mm + beyond_mm - 1, 8), at(d, length_mm * 0.6, 9), at(d, 4, 6)]);
  const blur = (v: Interval, colour: string) => {
    const slices = 12, low = Math.max(0, v.p05);
    for (let i = 0; i < slices; ++i) {
      const a = low + ((v.p95 - low) * i) / slices, b = low + ((v.p95 - low) * (i + 1)) / slices, mid = (a + b) / 2;
      const share = mid <= v.p50 ? (mid - v.p05) / Math.max(1e-9, v.p50 - v.p05) : (v.p95 - mid) / Math.max(1e-9, v.p95 - v.p50);
      parts.push(el('path', { d: path([at(a, 26), at(a, length_mm + beyond_mm), at(b, length_mm + beyond_mm), at(b, 26)]), fill: colour, 'fill-opacity': 0.05 + 0.4 * Math.min(1, Math.max(0, share)), stroke: 'none' }));
    }
  };
  const labels: { mm: number; text: string; colour: string; leader: boolean }[] = [];
  const number = (v: number) => number_text(Math.max(0, v), 'length_mm', system, 2);
  if (places.bite_mm && places.bite_mm.p95 > places.bite_mm.p05) blur(places.bite_mm, 'var(--act)');
  if (places.full_mm && places.full_mm.p95 > places.full_mm.p05) blur(places.full_mm, 'var(--look)');
  if (places.reach_mm !== null) {
    parts.push(el('path', { d: outline(places.reach_mm), fill: 'var(--steel)', 'fill-opacity': 0.7, stroke: 'var(--ink)', 'stroke-width': 1.2 }));
    // Its way, from rest to the bar, at the finger.
    parts.push(el('path', { d: path(Array.from({ length: 13 }, (_, i): [number, number] => at((places.reach_mm! * (12 - i)) / 12, length_mm)), false), fill: 'none', stroke: 'var(--soft)', 'stroke-dasharray': '1 4', 'stroke-width': 1.5 }));
    labels.push({ mm: places.reach_mm, text: `at rest ${number(places.reach_mm)}`, colour: 'var(--ink)', leader: true });
  }
  for (const [v, colour, words] of [[places.bite_mm, 'var(--act)', 'bites'], [places.full_mm, 'var(--look)', places.full_words]] as const)
    if (v) {
      const mid = Math.max(0, v.p50);
      parts.push(el('path', { d: path([at(mid, 4), at(mid, length_mm + beyond_mm)], false), stroke: colour, 'stroke-width': 2.5, fill: 'none', ...(words === 'bites' ? {} : { 'stroke-dasharray': '8 3' }) }));
      labels.push({ mm: mid, text: `${words} ${number(mid)}`, colour, leader: true });
    }
  if (places.window_mm) labels.push({ mm: (places.window_mm[0] + places.window_mm[1]) / 2, text: `hand ${number(places.window_mm[0])} to ${number(places.window_mm[1])}`, colour: 'var(--soft)', leader: false });
  parts.push(el('circle', { cx: X(0), cy: Y(pivot_mm), r: Math.max(2, 3.5 * scale), fill: 'var(--paper)', stroke: 'var(--ink)' }));
  labels.sort((a, b) => b.mm - a.mm);
  const places_y = parted(labels.map((l) => Y(l.mm)), 17), label_x = X(right_mm) + 12;
  for (const [i, l] of labels.entries()) {
    const [fx, fy] = at(l.mm, length_mm + beyond_mm);
    if (l.leader) parts.push(el('path', { d: `M${(fx + 2).toFixed(1)} ${fy.toFixed(1)}L${(label_x - 3).toFixed(1)} ${places_y[i]!.toFixed(1)}`, stroke: l.colour, 'stroke-width': 1, fill: 'none' }));
    parts.push(el('text', { x: label_x, y: places_y[i]! + 4, 'font-size': 12.5, fill: l.colour === 'var(--soft)' ? 'var(--soft)' : 'var(--ink)' }, l.text));
  }
  return { parts, width: (left_mm + right_mm) * scale + label_room, height: (far_mm + bar_mm + 4) * scale, scale };
}
