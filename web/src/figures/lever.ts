// SPDX-License-Identifier: Apache-2.0
// The lever in this hand, drawn; and the squeeze between a slow-down and the lock.  Layer: web, figures
import type { LeverOfWheel, WheelName } from '../wire';
import { converted, interval_text, number_text, unit_of, whole_interval, type Interval, type System } from '../units';
import { blur_gradient, el, fresh_id, interval_note, sheet_of, type Figure } from './figure';
import { lever_assumptions, lever_drawn } from './lever_drawn';

const css_px_per_mm = 96 / 25.4;
type Both = Record<WheelName, LeverOfWheel | null>;
const wheels = ['front', 'rear'] as const;
const name = (w: WheelName) => (w === 'front' ? 'Front' : 'Rear');

//! Where the bite lies for this hand, in words. What moves it, the program says.
export function lever_said(wheel: WheelName, lever: LeverOfWheel, system: System): string {
  const bite = whole_interval(lever.bite_mm);
  const [near, far] = lever.window_mm;
  if (!bite) return `Where the ${wheel} lever bites is not known.`;
  const at = `The ${wheel} lever bites ${interval_text(bite, 'length_mm', system)} from the bar`;
  if (near === null || near === undefined || far === null || far === undefined) return `${at}.`;
  if (near > far) return `${at}; no bite leaves this hand both way and strength.`;
  if (lever.in_window) return `${at}, where this hand works well.`;
  return bite.p50 > far ? `${at}, too far out for this hand.` : `${at}, near the bar for this hand.`;
}

export function lever_figure(levers: Both, system: System, reach_mm: Record<WheelName, number | null> | null = null): Figure | null {
  const known = wheels.filter((w) => levers[w] && whole_interval(levers[w]!.bite_mm));
  if (!known.length) return null;
  const unit = unit_of('length_mm', system);
  return {
    id: 'lever-in-hand',
    title: 'The levers in this hand',
    says: known.map((w) => lever_said(w, levers[w]!, system)).join(' '),
    caption: `The levers from above: at rest, at the bite, and where an ordinary stop holds them; distances from the bar at the finger, in ${unit === 'in' ? 'inches' : unit}. Shaded at the finger: bites between these suit this hand. A lever that meets the bar: do not ride.`,
    interval: interval_note, assumptions: ['The hand, unless its size and strength were told.', ...lever_assumptions], sources: ['This bike’s own description and readings; hands by the tables of docs/models/stop.md.'],
    table: {
      head: ['lever', 'bites', 'ordinary stop', 'suits this hand'],
      rows: known.map((w) => {
        const l = levers[w]!, full = whole_interval(l.full_mm);
        const [a, b] = l.window_mm;
        return [w, interval_text(whole_interval(l.bite_mm)!, 'length_mm', system), full ? interval_text(full, 'length_mm', system) : 'not known', a !== null && a !== undefined && b !== null && b !== undefined ? a > b ? 'no bite' : `${number_text(a, 'length_mm', system, 2)} to ${number_text(b, 'length_mm', system, 2)} ${unit}` : 'not known'];
      }),
    },
    draw: (width) => {
      const w = Math.min(width, 560);
      const out: SVGElement[] = [];
      let y = 4, scale = 0;
      for (const wheel of known) {
        const l = levers[wheel]!, [a, b] = l.window_mm;
        const window_mm: [number, number] | null = a !== null && a !== undefined && b !== null && b !== undefined && a <= b ? [a, b] : null;
        out.push(el('text', { x: 2, y: y + 12, 'font-weight': 650 }, `${name(wheel)} lever`));
        const drawn = lever_drawn({ reach_mm: reach_mm?.[wheel] ?? null, bite_mm: whole_interval(l.bite_mm), full_mm: whole_interval(l.full_mm), window_mm, full_words: 'ordinary stop' }, 2, y + 10, w - 4, css_px_per_mm, system);
        out.push(...drawn.parts);
        y += drawn.height + 26;
        scale = drawn.scale;
      }
      out.push(el('text', { x: 2, y: y + 2, fill: 'var(--soft)', 'font-size': 12 }, `seen from above; ${unit === 'in' ? 'inches' : unit} from the bar${Math.abs(scale / css_px_per_mm - 1) < 0.02 ? ', life size' : ''}`));
      return sheet_of(w, y + 10, ...out);
    },
  };
}

export type Hand = { hand_N: Interval | null; cold_N: Interval | null };

//! The lever-force window: from 0.3 g to the lock, beside what this hand has.
export function squeeze_figure(levers: Both, hand: Hand, system: System): Figure | null {
  const rows: { label: string; value: Interval; colour: string }[] = [];
  for (const w of wheels) {
    const l = levers[w];
    const slow = l && whole_interval(l.force_03g_N), lock = l && whole_interval(l.force_lock_N);
    if (slow) rows.push({ label: `${w}: 0.3 g`, value: slow, colour: 'var(--act)' });
    if (lock) rows.push({ label: `${w}: lock or lift`, value: lock, colour: 'var(--hold)' });
  }
  if (!rows.length) return null;
  if (hand.hand_N) rows.push({ label: 'this hand', value: hand.hand_N, colour: 'var(--ink)' });
  if (hand.cold_N) rows.push({ label: 'cold, gloves', value: hand.cold_N, colour: 'var(--ink)' });
  const unit = unit_of('force_N', system);
  return {
    id: 'squeeze',
    title: 'How much squeeze there is to play with',
    says: rows.map((r) => `${r.label} ${interval_text(r.value, 'force_N', system)}`).join('; '),
    caption: `Squeeze at the lever, in ${unit}: what slows the bike by 0.3 g with that brake alone, what locks the wheel or lifts the rear, and what this hand has; the printed figure is the middle. A narrow way from the first to the second makes a brake that grabs.`,
    interval: interval_note, assumptions: ['The surface and hill that were asked for; the hand, unless its size and strength were told.'], sources: ['This bike’s description through docs/models/stop.md; hands by the tables named there.'],
    table: { head: ['what', `squeeze`], rows: rows.map((r) => [r.label, interval_text(r.value, 'force_N', system)]) },
    draw: (width) => {
      const w = Math.min(width, 560), left = 104, row = 30;
      const most = Math.max(...rows.map((r) => r.value.p95)) * 1.12;
      const X = (v: number) => left + (v / most) * (w - left - 60);
      const defs = el('defs');
      const out: SVGElement[] = [defs];
      rows.forEach((r, i) => {
        const y = 4 + i * row, id = fresh_id('squeeze');
        defs.append(blur_gradient(id, r.colour, (r.value.p50 - r.value.p05) / Math.max(1e-9, r.value.p95 - r.value.p05)));
        out.push(el('text', { x: left - 8, y: y + 17, 'text-anchor': 'end' }, r.label));
        out.push(el('rect', { x: X(r.value.p05), y: y + 4, width: Math.max(1, X(r.value.p95) - X(r.value.p05)), height: 18, fill: `url(#${id})` }));
        out.push(el('path', { d: `M${X(r.value.p50).toFixed(1)} ${y + 1}v24`, stroke: r.colour, 'stroke-width': 2.5, fill: 'none' }));
        out.push(el('text', { x: X(r.value.p95) + 6, y: y + 17, 'font-size': 12.5 }, number_text(r.value.p50, 'force_N', system, 2)));
      });
      const base = 8 + rows.length * row;
      out.push(el('path', { d: `M${left} 0V${base}H${w - 8}`, stroke: 'var(--ink)', fill: 'none' }));
      const step = Math.pow(10, Math.floor(Math.log10(converted(most, 'force_N', system)))) / 2, k = converted(1, 'force_N', system);
      for (let v = 0; v / k <= most; v += step) out.push(el('text', { x: X(v / k), y: base + 16, 'text-anchor': 'middle', fill: 'var(--soft)', 'font-size': 12 }, String(Math.round(v * 100) / 100)));
      out.push(el('text', { x: w - 8, y: base + 32, 'text-anchor': 'end', fill: 'var(--soft)', 'font-size': 12 }, `${unit} at the lever`));
      return sheet_of(w, base + 38, ...out);
    },
  };
}
