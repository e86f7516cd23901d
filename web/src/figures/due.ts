// SPDX-License-Identifier: Apache-2.0
// The half year ahead: when each bike wants a look.                                                        Layer: web, figures
import type { StandBike } from '../wire';
import { day_text } from '../units';
import { el, sheet_of, type Figure } from './figure';

const day_ms = 86_400_000;
const days_between = (from: string, to: string): number => (Date.parse(to) - Date.parse(from)) / day_ms;
export const span_days = 182;

export type DuePlace = { name: string; days: number | null; held: boolean; replace: boolean; late: boolean };
export function due_places(bikes: StandBike[], today: string): DuePlace[] {
  return bikes.map((b) => {
    const days = b.look_by ? days_between(today, b.look_by) : null;
    return { name: b.name, days, held: b.held !== null || b.verdict.do_not_ride, replace: b.verdict.state === 'replace', late: days !== null && days < 0 };
  });
}

export function due_figure(bikes: StandBike[], today: string): Figure {
  const places = due_places(bikes, today);
  const words = (b: StandBike, p: DuePlace) => (p.held ? 'held back' : p.replace ? 'replace before the next ride' : b.look_by ? `${p.late ? 'a look was due' : 'look'} by ${day_text(b.look_by)}` : 'no date yet');
  return {
    id: 'next-due',
    title: 'The half year ahead',
    says: bikes.map((b, i) => `${b.name}: ${words(b, places[i] as DuePlace)}`).join('; '),
    caption: 'When each bike wants a look. A full square is a bike that is held back, an open one a bike with something to replace before the next ride; an open end is a bike without a date: nothing says that it can wait.',
    interval: 'A date is set where the chance of being past a limit is at most 1 in 200.', assumptions: ['Riding to come is like the riding so far.'], sources: ['Each bike’s own papers.'],
    table: { head: ['bike', 'next'], rows: bikes.map((b, i) => [b.name, words(b, places[i] as DuePlace)]) },
    draw: (width) => {
      const left = 8, right = width - 10, row_h = 40, top = 26;
      const x = (days: number) => left + (Math.min(Math.max(days, 0), span_days) / span_days) * (right - left);
      const height = top + places.length * row_h + 8;
      const out: SVGElement[] = [];
      const start = new Date(`${today}T00:00:00Z`);
      const months = width < 420 ? 2 : 1;
      for (let m = 1; m <= 6; m += months) {
        const first = new Date(Date.UTC(start.getUTCFullYear(), start.getUTCMonth() + m, 1));
        const at = days_between(today, first.toISOString().slice(0, 10));
        if (at > span_days - 8) break;
        out.push(el('path', { d: `M${x(at).toFixed(1)} ${top - 6}V${height - 4}`, stroke: 'var(--line)', fill: 'none' }));
        out.push(el('text', { x: x(at) + 4, y: 14, fill: 'var(--soft)', 'font-size': 12 }, new Intl.DateTimeFormat('en-GB', { month: 'short', timeZone: 'UTC' }).format(first)));
      }
      out.push(el('path', { d: `M${x(0)} ${top - 6}V${height - 4}`, stroke: 'var(--ink)', fill: 'none' }));
      out.push(el('text', { x: x(0), y: 14, 'font-size': 12 }, 'today'));
      places.forEach((p, i) => {
        const y = top + i * row_h + 24;
        const now = p.held || p.replace, end = now ? 0 : p.days ?? 0;
        if (!now && p.days !== null && !p.late) out.push(el('path', { d: `M${x(0)} ${y}H${x(end).toFixed(1)}`, stroke: 'var(--ink)', 'stroke-width': 1.5, fill: 'none' }));
        if (!now && p.days === null) out.push(el('path', { d: `M${x(0)} ${y}H${x(span_days * 0.3).toFixed(1)}`, stroke: 'var(--soft)', 'stroke-dasharray': '2 5', fill: 'none' }));
        if (now) out.push(el('rect', { x: x(0) + 1, y: y - 5, width: 10, height: 10, fill: p.held ? 'var(--hold)' : 'var(--paper)', stroke: 'var(--hold)', 'stroke-width': 2 }));
        else if (p.days !== null && p.days <= span_days) {
          const cx = x(end);
          out.push(el('circle', { cx, cy: y, r: 6, fill: 'var(--paper)', stroke: 'var(--look)', 'stroke-width': 1.5 }));
          out.push(el('path', { d: `M${cx.toFixed(1)} ${y - 6}a6 6 0 0 0 0 12z`, fill: 'var(--look)' }));
        } else if (p.days !== null) out.push(el('path', { d: `M${right - 6} ${y - 5}l6 5l-6 5`, stroke: 'var(--ink)', fill: 'none' }));
        out.push(el('text', { x: x(0) + (now ? 18 : 4), y: y - (now ? -4 : 8), 'font-size': 12.5, stroke: 'var(--paper)', 'stroke-width': 4, 'paint-order': 'stroke' }, p.replace && !p.held ? `${p.name}: replace first` : p.late && !p.held ? `${p.name}, overdue` : p.name));
      });
      return sheet_of(width, height, ...out);
    },
  };
}
