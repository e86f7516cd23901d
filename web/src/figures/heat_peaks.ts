// SPDX-License-Identifier: Apache-2.0
// The hottest that rotor, pads and fluid got on a ride, above the scale of heated steel.                   Layer: web, figures
import * as Plot from '@observablehq/plot';
import { steel_colours, steel_from_degC, steel_step_K } from '../palette';
import type { Ride } from '../wire';
import { converted, interval_text, number_text, unit_of, type Interval, type System } from '../units';
import { ride_name } from '../words';
import { band_marks, el, interval_note, margin_for, plot, type Figure } from './figure';

export const steel_note = `Colours are the scale of heated steel, ${steel_from_degC} to ${steel_from_degC + steel_step_K * steel_colours.length} °C in steps of ${steel_step_K} K: a scale to read from, not a tint to expect.`;

export function heat_peaks_figure(ride: Ride, system: System, assumptions: string[], sources: string[]): Figure {
  const t = (v: number) => converted(v, 'temperature_degC', system);
  const rows: { label: string; value: Interval; colour: string; degC: Interval; point: number | null }[] = [];
  for (const wheel of ['front', 'rear'] as const) {
    const w = ride.wheels[wheel];
    const add = (label: string, i: Interval | null | undefined, point: number | null = null) => {
      if (i) rows.push({ label: `${wheel} ${label}`, value: { p05: t(i.p05), p50: t(i.p50), p95: t(i.p95) }, degC: i, colour: 'var(--act)', point });
    };
    add('rotor', w.rotor_peak_degC);
    add('pad face', w.pad_face_peak_degC);
    add('fluid', w.fluid_peak_degC, w.fluid_point_degC ? t(w.fluid_point_degC.p05) : null);
  }
  const most = Math.max(t(150), ...rows.map((r) => Math.max(r.value.p95, r.point ?? 0))) * 1.03;
  const steps = steel_colours.map((fill, i) => ({ x1: t(steel_from_degC + i * steel_step_K), x2: t(steel_from_degC + (i + 1) * steel_step_K), fill })).filter((s) => s.x1 < most);
  return {
    id: 'hottest',
    title: `How hot: ${ride_name(ride)}`,
    says: rows.map((r) => `${r.label} ${interval_text(r.degC, 'temperature_degC', system)}`).join('; '),
    caption: `The hottest of each part on ${ride_name(ride)}; the printed figure is the middle. ${steel_note}${rows.some((r) => r.point !== null) ? ' The dashed line is where the fluid may boil, at the low end of what its age allows.' : ''}`,
    interval: interval_note, assumptions, sources,
    table: { head: ['part', 'hottest'], rows: rows.map((r) => [r.label, interval_text(r.degC, 'temperature_degC', system)]) },
    draw: (width) => plot({
      width, height: rows.length * 30 + 64, marginLeft: Math.min(margin_for(rows.map((r) => r.label)), width * 0.34), marginRight: 42, marginTop: 6, marginBottom: 40,
      x: { domain: [0, most], label: unit_of('temperature_degC', system), labelAnchor: 'right', labelArrow: 'none', ticks: Math.max(3, Math.round(width / 90)), tickSize: 4 },
      y: { domain: rows.map((r) => r.label), label: null, tickSize: 0, padding: 0.1, insetBottom: 18 },
      marks: [
        (_index: unknown, { x }: { x?: (v: number) => number }, _values: unknown, d: { height: number; marginBottom: number }) =>
          el('g', {}, ...steps.map((s) => el('rect', { x: x!(s.x1), width: x!(Math.min(s.x2, most)) - x!(s.x1), y: d.height - d.marginBottom - 13, height: 12, fill: s.fill }))),
        Plot.ruleX([0], { stroke: 'var(--ink)' }),
        ...band_marks(rows),
        Plot.tickX(rows.filter((r) => r.point !== null), { x: 'point', y: 'label', stroke: 'var(--hold)', strokeDasharray: '3 3', insetTop: -3, insetBottom: -3 }),
        Plot.text(rows, { x: (d: (typeof rows)[number]) => d.value.p95, y: 'label', text: (d: (typeof rows)[number]) => number_text(d.degC.p50, 'temperature_degC', system), textAnchor: 'start', dx: 6, fill: 'var(--ink)', fontWeight: 650, fontSize: 12.5 }),
      ],
    }),
  };
}
