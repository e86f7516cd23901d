// SPDX-License-Identifier: Apache-2.0
// Riding that is left in pads and rotors, with the distance by which to look.                              Layer: web, figures
import * as Plot from '@observablehq/plot';
import { converted, interval_text, number_text, unit_of, type Interval, type System } from '../units';
import { cap_km, type LifeRow } from '../words';
import { band_marks, decades, interval_note, margin_for, plot, type Figure } from './figure';

export function life_figure(life: LifeRow[], system: System, assumptions: string[], sources: string[]): Figure {
  const move = (km: number) => converted(km * 1000, 'ride_m', system);
  const rows = life.map((r) => ({
    label: r.label, colour: 'var(--act)', row: r,
    value: { p05: move(r.km.p05), p50: move(r.km.p50), p95: move(r.km.p95) } as Interval,
    look: r.look_by_km === null ? null : move(r.look_by_km),
  }));
  const ends = rows.flatMap((r) => [r.value.p05, r.value.p95, r.look ?? r.value.p05]).filter((v) => v > 0);
  const unit = unit_of('ride_m', system);
  const metres = (i: Interval): Interval => ({ p05: i.p05 * 1000, p50: i.p50 * 1000, p95: i.p95 * 1000 });
  return {
    id: 'riding-left',
    title: 'Riding that is left',
    says: life.map((r) => `${r.label}: ${interval_text(metres(r.km), 'ride_m', system, cap_km * 1000)}`).join('; '),
    caption: `Riding that is left, if it goes on like this: the printed figure is the middle. Each step of the scale is ten times the one before. The dashed line is where to look: until there the chance of being past the limit is at most 1 in 200.${life.some((r) => r.capped) ? ` Counting ends at ${number_text(cap_km * 1000, 'ride_m', system, 2)} ${unit}.` : ''}`,
    interval: interval_note, assumptions, sources,
    table: {
      head: ['part', 'riding left', 'look by', 'counted down to'],
      rows: life.map((r) => [r.label, interval_text(metres(r.km), 'ride_m', system, cap_km * 1000), [r.look_by, r.look_by_km === null ? null : `${number_text(r.look_by_km * 1000, 'ride_m', system, 2)} ${unit}`].filter(Boolean).join(' or '), r.limit.replace(/^down to /, '')]),
    },
    draw: (width) => plot({
      width, height: rows.length * 36 + 50, marginLeft: margin_for(rows.map((r) => r.label)), marginRight: 112, marginTop: 6, marginBottom: 44,
      x: { type: 'log', domain: [Math.min(...ends) * 0.6, Math.max(...ends) * 1.15], label: `${unit} of riding`, labelAnchor: 'right', labelArrow: 'none', ticks: decades(Math.min(...ends) * 0.6, Math.max(...ends) * 1.15, Math.floor(width / 130)), tickFormat: (v: number) => number_text(v, 'plain', system, 1), tickSize: 4 },
      y: { domain: rows.map((r) => r.label), label: null, tickSize: 0, padding: 0.1 },
      marks: [
        Plot.ruleY(rows, { y: 'label', stroke: 'var(--line)' }),
        ...band_marks(rows, true),
        Plot.tickX(rows.filter((r) => r.look !== null), { x: 'look', y: 'label', stroke: 'var(--hold)', strokeWidth: 1.5, strokeDasharray: '3 3' }),
        Plot.text(rows, { frameAnchor: 'right', y: 'label', text: (d: (typeof rows)[number]) => (d.row.km.p50 >= cap_km ? 'over ' : '') + number_text(d.row.km.p50 * 1000, 'ride_m', system, 2), textAnchor: 'end', dx: 98, fill: 'var(--ink)', fontWeight: 650, fontSize: 12.5 }),
      ],
    }),
  };
}
