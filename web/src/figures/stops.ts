// SPDX-License-Identifier: Apache-2.0
// Room to stop: reaction first, then the brakes, for each set of brakes and surface.                      Layer: web, figures
import * as Plot from '@observablehq/plot';
import type { Stop } from '../wire';
import { converted, interval_text, number_text, unit_of, with_unit, type Interval, type System } from '../units';
import { limit_of, stop_label } from '../words';
import { band_marks, interval_note, margin_for, plot, type Figure } from './figure';

//! experts: room of a rider who uses all that road and brake allow, stop for stop; a faint line.
export function stops_figure(all: Stop[], system: System, assumptions: string[], sources: string[], experts: (Interval | null)[] = []): Figure {
  const stops = all.filter((s) => s.room_needed_m && s.brake_distance_m);
  const move = (i: Interval) => ({ p05: converted(i.p05, 'room_m', system), p50: converted(i.p50, 'room_m', system), p95: converted(i.p95, 'room_m', system) });
  const rows = stops.map((s) => ({
    expert: experts[all.indexOf(s)] ? converted(experts[all.indexOf(s)]!.p50, 'room_m', system) : null,
    label: stop_label(s), value: move(s.room_needed_m as Interval), colour: 'var(--act)',
    reaction: converted((s.room_needed_m as Interval).p50 - (s.brake_distance_m as Interval).p50, 'room_m', system),
    far: number_text((s.room_needed_m as Interval).p95, 'room_m', system, 2),
  }));
  const most = Math.max(1, ...rows.map((r) => r.value.p95));
  const from = stops[0] ? with_unit(stops[0].from_mps, 'speed_mps', system, 2) : '';
  return {
    id: 'room-to-stop',
    title: `Room to stop from ${from}`,
    says: stops.map((s) => `${stop_label(s)}: ${interval_text(s.room_needed_m as Interval, 'room_m', system)}`).join('; '),
    caption: `Room needed from the moment something happens, from ${from}. The thin line is reaction; the band is where the bike comes to rest. Judge by the far end, which is printed.${rows.some((r) => r.expert !== null) ? ' The faint line is where somebody would stand who uses all that road and brake allow, with the same reaction: not a figure to count on.' : ''}`,
    interval: interval_note, assumptions, sources,
    table: {
      head: ['brakes, surface', 'room needed', 'of it the brakes', 'squeeze needed', 'what sets the limit', ...(experts.length ? ['an expert’s limit'] : [])],
      rows: all.map((s) => [
        stop_label(s),
        s.room_needed_m ? interval_text(s.room_needed_m, 'room_m', system) : 'may not stop',
        s.brake_distance_m ? interval_text(s.brake_distance_m, 'room_m', system) : '–',
        interval_text(s.lever_force_N, 'force_N', system), limit_of(s),
        ...(experts.length ? [experts[all.indexOf(s)] ? interval_text(experts[all.indexOf(s)]!, 'room_m', system) : '–'] : []),
      ]),
    },
    draw: (width) => {
      const left = Math.min(margin_for(rows.map((r) => r.label)), width * 0.34);
      return plot({
        width, height: rows.length * 34 + 46, marginLeft: left, marginRight: 46, marginTop: 6, marginBottom: 40,
        x: { domain: [0, most * 1.04], label: `room, ${unit_of('room_m', system)}`, labelAnchor: 'right', labelArrow: 'none', ticks: Math.max(3, Math.round(width / 110)), tickSize: 4, insetLeft: 0 },
        y: { domain: rows.map((r) => r.label), label: null, tickSize: 0, padding: 0.1 },
        marks: [
          Plot.ruleX([0], { stroke: 'var(--ink)' }),
          Plot.ruleY(rows, { y: 'label', x1: 0, x2: 'reaction', stroke: 'var(--soft)', strokeWidth: 1.5 }),
          Plot.tickX(rows, { x: 'reaction', y: 'label', stroke: 'var(--soft)', insetTop: 11, insetBottom: 11 }),
          Plot.ruleY(rows, { y: 'label', x1: 'reaction', x2: (d: (typeof rows)[number]) => d.value.p05, stroke: 'var(--act)', strokeWidth: 1, strokeDasharray: '1 3' }),
          Plot.tickX(rows.filter((r) => r.expert !== null), { x: 'expert', y: 'label', stroke: 'var(--soft)', strokeWidth: 1, strokeDasharray: '2 2', insetTop: 4, insetBottom: 4 }),
          ...band_marks(rows),
          Plot.text(rows, { x: (d: (typeof rows)[number]) => d.value.p95, y: 'label', text: 'far', textAnchor: 'start', dx: 6, fill: 'var(--ink)', fontWeight: 650, fontSize: 12.5 }),
        ],
      });
    },
  };
}
