// SPDX-License-Identifier: Apache-2.0
// A rotor's turn as the dial saw it: the dial along the angle, and the rotor's face with where to push, which way and how far.  Layer: web, figures
import * as Plot from '@observablehq/plot';
import type { RunOut, WheelName } from '../wire';
import { converted, day_text, interval_text, number_text, unit_of, type Interval, type System } from '../units';
import { el, plot, sheet_of, wrapped, type Figure } from './figure';

export type Step = { number: number; what: 'seat' | 'push'; angle_deg: Interval; way: 'away_from_dial' | 'towards_dial' | null; by_mm: number; width_deg: number; after_mm: Interval };

//! What is worth doing, in the order of the program's words: the seat, then each bend. Empty where the readings cannot tell.
export function steps_of(r: RunOut): Step[] {
  const worth = r.worth_mm ?? Infinity, steps: Step[] = [];
  if (r.depth !== 'parts' || !r.tilt) return steps;
  if (2 * r.tilt.amplitude_mm.p50 >= worth && r.total_without_tilt_mm) steps.push({ number: 1, what: 'seat', angle_deg: r.tilt.angle_deg, way: null, by_mm: 2 * r.tilt.amplitude_mm.p50, width_deg: 0, after_mm: r.total_without_tilt_mm });
  for (const b of r.bends ?? [])
    if (Math.abs(b.height_mm.p50) >= worth) steps.push({ number: steps.length + 1, what: 'push', angle_deg: b.angle_deg, way: b.push, by_mm: Math.abs(b.height_mm.p50), width_deg: b.width_deg.p50, after_mm: b.total_after_mm });
  return steps;
}

//! The words apart: what it is, the plan with its own lead, and what comes after it.
export function words_apart(words: string[]): { is: string[]; lead: string | null; steps: string[]; after: string[] } {
  const at = words.findIndex((w) => w.startsWith('Plan, only'));
  if (at < 0) return { is: words, lead: null, steps: [], after: [] };
  const rest = words.slice(at + 1), end = rest.findIndex((w) => !/^\d+\. /.test(w));
  return { is: words.slice(0, at), lead: words[at]!, steps: end < 0 ? rest : rest.slice(0, end), after: end < 0 ? [] : rest.slice(end) };
}

const unit = (system: System): string => unit_of('thickness_mm', system);
const mm = (v: number, system: System): string => number_text(v, 'thickness_mm', system);
const span = (i: Interval, system: System): string => `${mm(i.p50, system)} ${unit(system)} (${mm(i.p05, system)} to ${mm(i.p95, system)})`;
const round_deg = (v: number): number => ((Math.round(v) % 360) + 360) % 360;
const way_words = (s: Step): string => (s.way === 'away_from_dial' ? 'away from the dial' : 'towards the dial');
const assumptions = ['How large and how usual tilt, saddle, arm patterns and bends are before anybody has read a rotor (common practice and data/inspect.toml).', 'A push misses by about a quarter of its height.'];
const sources = (r: RunOut): string[] => [`This rotor’s own dial readings of ${day_text(r.day)}.`, 'Harmonics and bends by sampling: docs/models/inspect.md.'];

// Readings, moved so that they lie on the shape, whose own mean is nought.
function readings_of(r: RunOut): { angle_deg: number; dial_mm: number }[] {
  const read = r.read ?? [], shape = r.shape ?? [];
  const at = (angle: number) => shape.length ? shape.reduce((best, p) => (Math.abs(p.angle_deg - angle) < Math.abs(best.angle_deg - angle) ? p : best)).dial_mm.p50 : 0;
  const turned = read.map((p) => ({ angle_deg: ((p.angle_deg % 360) + 360) % 360, dial_mm: p.dial_mm }));
  const off = turned.reduce((s, p) => s + p.dial_mm - at(p.angle_deg), 0) / Math.max(1, turned.length);
  return turned.map((p) => ({ ...p, dial_mm: p.dial_mm - off }));
}

export function turn_figure(wheel: WheelName, r: RunOut, system: System): Figure {
  const read = readings_of(r), shape = r.shape ?? [], steps = steps_of(r).filter((s) => s.what === 'push');
  const y = (v: number) => converted(v, 'thickness_mm', system);
  const line = [...shape, ...(shape[0] ? [{ ...shape[0], angle_deg: 360 }] : [])].map((p) => ({ a: p.angle_deg, low: y(p.dial_mm.p05), mid: y(p.dial_mm.p50), high: y(p.dial_mm.p95) }));
  const dots = read.map((p) => ({ a: p.angle_deg, v: y(p.dial_mm) }));
  const all = [...line.flatMap((p) => [p.low, p.high]), ...dots.map((p) => p.v)];
  const said = r.words?.[0] ?? '';
  return {
    id: `${wheel}-turn`, title: `The ${wheel} rotor’s turn`, says: [said, ...(r.words ?? []).slice(1, 6)].join(' '),
    caption: `The dial along one turn, from the mark on: up is nearer to the dial. Dots: what was read, ${r.angles ?? read.length} places.${line.length ? '' : ' Between these places nothing is known.'}${steps.length ? ' Numbers: the places to push, as in the plan.' : ''}`,
    interval: line.length ? 'Shaded: where the rotor lies, 5 to 95 %; the firm line is the middle.' : 'No interval: too few places, or too wide a hole between them.',
    assumptions: line.length ? assumptions : [], sources: sources(r),
    table: {
      head: ['part', 'size', 'where'],
      rows: [
        ['whole turn', r.total_mm ? span(r.total_mm, system) : `at least ${mm(r.seen_mm ?? 0, system)} ${unit(system)}`, ''],
        ...([['seat tilt, once a turn', r.tilt], ['saddle, twice a turn', r.saddle], [`${r.arms?.per_turn ?? ''} times a turn`, r.arms]] as const).flatMap(([name, p]) => (p ? [[`${name}${p.probability < 0.995 ? `, sure to ${Math.round(100 * p.probability)} %` : ''}`, span({ p05: 2 * p.amplitude_mm.p05, p50: 2 * p.amplitude_mm.p50, p95: 2 * p.amplitude_mm.p95 }, system), `nearest at ${round_deg(p.angle_deg.p50)}°`]] : [])),
        ...[...(r.bends ?? []), ...(r.perhaps ?? [])].map((b) => [`bend, sure to ${Math.round(100 * b.probability)} %`, `${mm(Math.abs(b.height_mm.p50), system)} ${unit(system)} ${b.height_mm.p50 < 0 ? 'away from' : 'towards'} the dial, ${Math.round(b.width_deg.p50)}° wide`, `${round_deg(b.angle_deg.p50)}°`]),
      ],
    },
    draw: (width) => plot({
      width, height: 250, marginLeft: 58, marginRight: 16, marginTop: 24, marginBottom: 46,
      x: { domain: [0, 360], label: 'degrees from the mark', labelAnchor: 'right', labelArrow: 'none', ticks: width < 420 ? [0, 90, 180, 270, 360] : [0, 45, 90, 135, 180, 225, 270, 315, 360], tickSize: 4, tickFormat: (v: number) => `${v}°` },
      y: { domain: [Math.min(...all), Math.max(...all)], nice: true, label: `dial, ${unit(system)}`, labelArrow: 'none', ticks: 5, tickSize: 4, tickFormat: (v: number) => v.toFixed(system === 'metric' ? 2 : 3).replace('-', '−') },
      marks: [
        Plot.ruleY([0], { stroke: 'var(--line)' }),
        Plot.areaY(line, { x: 'a', y1: 'low', y2: 'high', fill: 'var(--act)', fillOpacity: 0.2 }),
        Plot.line(line, { x: 'a', y: 'mid', stroke: 'var(--act)', strokeWidth: 2 }),
        Plot.dot(dots, { x: 'a', y: 'v', r: 3.5, fill: 'var(--paper)', stroke: 'var(--ink)', strokeWidth: 1.5 }),
        Plot.ruleX(steps, { x: (s: Step) => round_deg(s.angle_deg.p50), stroke: 'var(--look)', strokeDasharray: '4 3' }),
        Plot.text(steps, { x: (s: Step) => round_deg(s.angle_deg.p50), text: (s: Step) => `${s.number}`, frameAnchor: 'top', dy: -10, fontWeight: 650, fontSize: 13, fill: 'var(--look)' }),
      ],
    }),
  };
}

//! Where to push, which way, how far, and what is expected afterwards. Null where nothing is to be pushed.
export function push_figure(wheel: WheelName, r: RunOut, system: System): Figure | null {
  const steps = steps_of(r), shape = r.shape ?? [];
  if (!steps.some((s) => s.what === 'push') || !shape.length) return null;
  const worst = Math.max(0.02, ...shape.map((p) => Math.max(Math.abs(p.dial_mm.p05), Math.abs(p.dial_mm.p95))));
  const words = steps.map((s) => (s.what === 'seat' ? `${s.number}: the seat first, nothing is bent; then ${span(s.after_mm, system)} is expected` : `${s.number}: at ${round_deg(s.angle_deg.p50)}° push ${way_words(s)} by ${mm(s.by_mm, system)} ${unit(system)}, over about ${Math.round(s.width_deg)}°; then ${span(s.after_mm, system)} is expected`));
  return {
    id: `${wheel}-push`, title: `The ${wheel} rotor: where to push, and what is then left`, says: words.join('. '),
    caption: 'The rotor from the dial’s side, degrees as they were read, from the mark at the top. The line shows the run-out much enlarged: outwards is nearer to the dial. A cross in a ring: push away from the dial; a dot in a ring: push towards it. Only where the rotor’s maker allows straightening; cold, a little at a time, read again after each push.',
    interval: 'Shaded: where the rotor lies, 5 to 95 %. What is expected afterwards has its own interval, with the seat as it is.',
    assumptions, sources: sources(r),
    table: {
      head: ['step', 'where', 'which way', 'how far', 'expected total afterwards'],
      rows: steps.map((s) => (s.what === 'seat' ? [`${s.number}`, 'the seat', 'clean and tighten it, nothing is bent', `tilt of ${mm(s.by_mm, system)} ${unit(system)}`, span(s.after_mm, system)] : [`${s.number}`, `${interval_text({ ...s.angle_deg }, 'plain', 'metric')}°, over about ${Math.round(s.width_deg)}°`, way_words(s), `${mm(s.by_mm, system)} ${unit(system)}`, span(s.after_mm, system)])),
    },
    draw: (width) => {
      const w = Math.min(width, 520), cx = w / 2, ring = Math.min(104, w / 2 - 74), cy = ring + 62, swing = 16;
      const turn = (deg: number) => ((deg - 90) * Math.PI) / 180;
      const at = (deg: number, rad: number): [number, number] => [cx + rad * Math.cos(turn(deg)), cy + rad * Math.sin(turn(deg))];
      const path = (list: [number, number][]) => list.map(([x, y], i) => `${i ? 'L' : 'M'}${x.toFixed(1)} ${y.toFixed(1)}`).join('');
      const rad = (v: number) => ring + (v / worst) * swing;
      const round = (of: (p: (typeof shape)[number]) => number) => path(shape.map((p) => at(p.angle_deg, rad(of(p))))) + 'Z';
      const out: SVGElement[] = [
        el('circle', { cx, cy, r: ring + 24, fill: 'var(--steel)', stroke: 'var(--ink)' }),
        el('circle', { cx, cy, r: ring - 24, fill: 'var(--paper)', stroke: 'var(--ink)' }),
        el('path', { d: round((p) => p.dial_mm.p95) + round((p) => p.dial_mm.p05), fill: 'var(--act)', 'fill-opacity': 0.22, 'fill-rule': 'evenodd', stroke: 'none' }),
        el('circle', { cx, cy, r: ring, fill: 'none', stroke: 'var(--soft)', 'stroke-dasharray': '3 3' }),
        el('path', { d: round((p) => p.dial_mm.p50), fill: 'none', stroke: 'var(--act)', 'stroke-width': 2 }),
      ];
      const seat = steps.find((s) => s.what === 'seat');
      for (const deg of [0, 90, 180, 270]) {
        if (seat && Math.abs(((seat.angle_deg.p50 - deg + 540) % 360) - 180) < 35) continue;   // its own words stand there
        const [x, y] = at(deg, ring - 46);
        out.push(el('text', { x, y: y + 4, 'text-anchor': 'middle', fill: 'var(--soft)', 'font-size': 12 }, deg ? `${deg}°` : 'mark'));
      }
      const [top_x, top_y] = at(0, ring + 24);
      out.push(el('path', { d: `M${top_x.toFixed(1)} ${top_y.toFixed(1)}v-9`, stroke: 'var(--ink)', 'stroke-width': 2 }));
      for (const s of steps) {
        const deg = s.angle_deg.p50;
        if (s.what === 'push') {
          const arc = Array.from({ length: 25 }, (_, i): [number, number] => at(deg - s.width_deg / 2 + (s.width_deg * i) / 24, ring + 28));
          out.push(el('path', { d: path(arc), fill: 'none', stroke: 'var(--look)', 'stroke-width': 5 }));
          const [x, y] = at(deg, ring + 44);
          out.push(el('circle', { cx: x, cy: y, r: 9, fill: 'var(--paper)', stroke: 'var(--look)', 'stroke-width': 2 }));
          if (s.way === 'away_from_dial') out.push(el('path', { d: `M${(x - 6).toFixed(1)} ${(y - 6).toFixed(1)}l12 12m0 -12l-12 12`, stroke: 'var(--look)', 'stroke-width': 2 }));
          else out.push(el('circle', { cx: x, cy: y, r: 3.5, fill: 'var(--look)' }));
        }
        const [x, y] = at(deg, s.what === 'push' ? ring + 62 : ring - 46);
        out.push(el('text', { x, y: y + 5, 'text-anchor': 'middle', 'font-weight': 650, 'font-size': 14, stroke: 'var(--paper)', 'stroke-width': 3, 'paint-order': 'stroke' }, s.what === 'push' ? `${s.number}` : `${s.number} seat`));
      }
      // The steps in words beneath, each within the width.
      let y = cy + ring + 92;
      const letters = Math.floor((w - 26) / 6.6);
      for (const [i, text] of words.entries()) {
        const lines = wrapped(text.replace(/^\d+: /, ''), letters);
        out.push(el('text', { x: 2, y, 'font-weight': 650 }, `${steps[i]!.number}`));
        for (const l of lines) out.push(el('text', { x: 22, y }, l)), (y += 17);
        y += 4;
      }
      return sheet_of(w, y, ...out);
    },
  };
}
