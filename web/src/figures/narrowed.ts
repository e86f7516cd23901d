// SPDX-License-Identifier: Apache-2.0
// How the forecast of one part narrowed with each reading.                                                Layer: web, figures
import * as Plot from '@observablehq/plot';
import type { LifeNarrowed } from '../wire';
import { converted, day_text, interval_text, number_text, unit_of, type Interval, type System } from '../units';
import { blur_gradient, el, fresh_id, interval_note, margin_for, plot, type Figure } from './figure';

const metres = (i: Interval): Interval => ({ p05: i.p05 * 1000, p50: i.p50 * 1000, p95: i.p95 * 1000 });
const label_of = (n: LifeNarrowed['list'][number]): string => (n.readings === 0 ? 'when it went on' : `${n.readings}${n.day ? `, ${day_text(n.day, false)}` : ''}`);

export function narrowed_figure(narrowed: LifeNarrowed, system: System): Figure | null {
  if (narrowed.list.length < 2) return null;
  const unit = unit_of('ride_m', system), thick = (v: number) => number_text(v, 'thickness_mm', system);
  const rows = narrowed.list.map((n, i) => ({ id: String(i), label: label_of(n), value: { p05: converted(n.life_km.p05 * 1000, 'ride_m', system), p50: converted(n.life_km.p50 * 1000, 'ride_m', system), p95: converted(n.life_km.p95 * 1000, 'ride_m', system) } }));
  const first = narrowed.list[0]!, last = narrowed.list[narrowed.list.length - 1]!;
  const width_of = (i: Interval) => i.p95 - i.p05;
  return {
    id: 'narrowed',
    title: `How the ${narrowed.of} became better known`,
    says: narrowed.list.map((n) => `${label_of(n)}: ${interval_text(metres(n.life_km), 'ride_m', system)}`).join('; '),
    caption: `Whole life of the ${narrowed.of} from new to its limit, in ${unit}, as it was to be said when it went on and after each reading. The interval is now ${number_text((100 * width_of(last.life_km)) / Math.max(1e-9, width_of(first.life_km)), 'plain', system, 2)} % as wide as at first.`,
    interval: interval_note, assumptions: ['Each row uses only what was known by then.'], sources: ['This bike’s own readings.'],
    table: { head: ['readings', 'whole life', `thickness then, ${unit_of('thickness_mm', system)}`], rows: narrowed.list.map((n) => [label_of(n), interval_text(metres(n.life_km), 'ride_m', system), `${thick(n.thickness_mm.p50)} (${thick(n.thickness_mm.p05)} to ${thick(n.thickness_mm.p95)})`]) },
    draw: (width) => {
      const ids = rows.map(() => fresh_id('narrowed'));
      const ends = rows.flatMap((r) => [r.value.p05, r.value.p95]).filter((v) => v > 0);
      const log = (v: number) => Math.log(Math.max(v, 1e-9));
      return plot({
        width, height: rows.length * 34 + 48, marginLeft: margin_for(rows.map((r) => r.label)), marginRight: 60, marginTop: 6, marginBottom: 42,
        x: { type: 'log', domain: [Math.min(...ends) * 0.8, Math.max(...ends) * 1.15], label: `whole life, ${unit}`, labelAnchor: 'right', labelArrow: 'none', ticks: Math.max(2, Math.round(width / 150)), tickFormat: (v: number) => number_text(v, 'plain', system, 1), tickSize: 4 },
        y: { domain: rows.map((r) => r.id), tickFormat: (id: string) => rows[Number(id)]!.label, label: null, tickSize: 0, padding: 0.2 },
        marks: [
          () => el('defs', {}, ...rows.map((r, i) => blur_gradient(ids[i]!, 'var(--act)', (log(r.value.p50) - log(r.value.p05)) / Math.max(1e-9, log(r.value.p95) - log(r.value.p05))))),
          Plot.ruleY(rows, { y: 'id', stroke: 'var(--line)' }),
          ...rows.map((r, i) => Plot.barX([r], { x1: (d: typeof r) => d.value.p05, x2: (d: typeof r) => d.value.p95, y: 'id', fill: `url(#${ids[i]})`, insetTop: 3, insetBottom: 3 })),
          Plot.tickX(rows, { x: (d: (typeof rows)[number]) => d.value.p50, y: 'id', stroke: 'var(--act)', strokeWidth: 3 }),
          Plot.text(rows, { x: (d: (typeof rows)[number]) => d.value.p95, y: 'id', text: (d: (typeof rows)[number]) => number_text(d.value.p50, 'plain', system, 2), textAnchor: 'start', dx: 6, fill: 'var(--ink)', fontWeight: 650, fontSize: 12.5 }),
        ],
      });
    },
  };
}
