// SPDX-License-Identifier: Apache-2.0
// What is left in millimetres: each pad and rotor from new down to its limit, as sure as it is known.     Layer: web, figures
import type { LifePart } from '../wire';
import { day_text, number_text, unit_of, type System } from '../units';
import { blur_gradient, el, fresh_id, interval_note, sheet_of, type Figure } from './figure';

export const part_name = (p: LifePart): string => p.name ?? (p.component ?? 'part').replace(/_/g, ' ');
const is_rotor = (p: LifePart) => /rotor/.test(p.component ?? p.name ?? '');

export function left_figure(parts: LifePart[], system: System): Figure {
  const unit = unit_of('thickness_mm', system);
  const mm = (v: number) => number_text(v, 'thickness_mm', system);
  const words = (p: LifePart) => `${mm(p.thickness_mm.p50)} ${unit} (${mm(p.thickness_mm.p05)} to ${mm(p.thickness_mm.p95)})`;
  const look = (p: LifePart) => (p.look_by?.date ? `look by ${day_text(p.look_by.date)}` : 'no date known');
  return {
    id: 'left-in-mm',
    title: 'What is left, in thickness',
    says: parts.map((p) => `${part_name(p)}: ${words(p)}, limit ${mm(p.limit_mm)}, ${look(p)}`).join('; '),
    caption: `Thickness now of each pad’s friction material and of each rotor, in ${unit === 'in' ? 'inches' : unit}, drawn to one scale a kind: the outline is new, the dashed line is the limit, the soft edge is how sure it is. A thickness says nothing about a cracked or lifting bond.`,
    interval: interval_note, assumptions: ['since its last reading each part wore as this bike’s likely cases say', ...parts.filter((p) => p.limit_stated === false).map((p) => `limit of the ${part_name(p)} by common practice, which clears nothing`)], sources: ['This bike’s own readings and rides.'],
    table: { head: ['part', 'thickness now', 'limit', 'readings', 'look by'], rows: parts.map((p) => [part_name(p), words(p), mm(p.limit_mm), String(p.readings), look(p)]) },
    draw: (width) => {
      const w = Math.min(width, 640), left = w < 460 ? 4 : 150, right = 96, row = w < 460 ? 56 : 40;
      const most = (rotor: boolean) => Math.max(1e-9, ...parts.filter((p) => is_rotor(p) === rotor).map((p) => Math.max(p.new_mm ?? 0, p.thickness_mm.p95)));
      const defs = el('defs');
      const out: SVGElement[] = [defs];
      parts.forEach((p, i) => {
        const y = i * row + (w < 460 ? 20 : 6), h = 24, k = (w - left - right) / most(is_rotor(p));
        const X = (v: number) => left + v * k;
        out.push(el('text', { x: w < 460 ? left : left - 10, y: w < 460 ? y - 5 : y + 16, 'text-anchor': w < 460 ? 'start' : 'end' }, part_name(p)));
        if (p.new_mm) out.push(el('rect', { x: left, y, width: p.new_mm * k, height: h, fill: 'none', stroke: 'var(--soft)', 'stroke-dasharray': p.readings ? undefined! : '4 3' }));
        out.push(el('rect', { x: left, y, width: Math.max(0, p.thickness_mm.p05) * k, height: h, fill: is_rotor(p) ? 'var(--steel)' : 'var(--pad)', stroke: 'none' }));
        const id = fresh_id('left');
        defs.append(blur_gradient(id, 'var(--act)', (p.thickness_mm.p50 - p.thickness_mm.p05) / Math.max(1e-9, p.thickness_mm.p95 - p.thickness_mm.p05)));
        out.push(el('rect', { x: X(p.thickness_mm.p05), y, width: Math.max(1, (p.thickness_mm.p95 - p.thickness_mm.p05) * k), height: h, fill: `url(#${id})` }));
        out.push(el('path', { d: `M${X(p.thickness_mm.p50).toFixed(1)} ${y - 2}v${h + 4}`, stroke: 'var(--act)', 'stroke-width': 2.5, fill: 'none' }));
        out.push(el('path', { d: `M${X(p.limit_mm).toFixed(1)} ${w < 460 ? y : y - 4}v${h + (w < 460 ? 4 : 8)}`, stroke: 'var(--hold)', 'stroke-width': 1.5, 'stroke-dasharray': '3 3', fill: 'none' }));
        out.push(el('text', { x: w - right + 8, y: y + 12, 'font-weight': 650, 'font-size': 13 }, mm(p.thickness_mm.p50)));
        if (p.look_by?.date) out.push(el('text', { x: w - right + 8, y: y + 26, fill: 'var(--soft)', 'font-size': 11.5 }, day_text(p.look_by.date, false)));
      });
      return sheet_of(w, parts.length * row + (w < 460 ? 16 : 8), ...out);
    },
  };
}

//! What moves it: shares of the spread, greatest first.
export function movers_figure(movers: { words: string; share: number }[], of: string): Figure {
  const list = movers.filter((m) => m.share >= 0.01).slice(0, 7);
  return {
    id: 'moves-it',
    title: 'What moves the answer',
    says: list.map((m) => `${m.words}: ${Math.round(m.share * 100)} %`).join('; '),
    caption: `What the spread of the life of the ${of} comes from: shares of the variance of its logarithm, each thing by itself.`,
    interval: 'Shares by first order, from the same likely cases; they need not add up to all.', assumptions: ['Each input moved alone, the others left to their spread.'], sources: ['This bike’s own likely cases (docs/models/life.md).'],
    table: { head: ['what', 'share of the spread'], rows: list.map((m) => [m.words, `${Math.round(m.share * 100)} %`]) },
    draw: (width) => {
      const w = Math.min(width, 560), row = 40;
      return sheet_of(w, list.length * row + 4, ...list.flatMap((m, i) => [
        el('text', { x: 2, y: i * row + 14, 'font-size': 12.5 }, m.words),
        el('rect', { x: 2, y: i * row + 19, width: Math.max(1, (w - 60) * m.share), height: 10, fill: 'var(--act)' }),
        el('text', { x: 8 + Math.max(1, (w - 60) * m.share), y: i * row + 29, 'font-size': 12.5, 'font-weight': 650 }, `${Math.round(m.share * 100)} %`),
      ]));
    },
  };
}
