// SPDX-License-Identifier: Apache-2.0
// Front against rear: the best sharing, both levers pulled alike, and where either tyre gives up.           Layer: web, figures
import * as Plot from '@observablehq/plot';
import type { Balance, Tyres } from '../wire';
import { converted, interval_text, unit_of, whole_interval, type System } from '../units';
import { plot, type Figure } from './figure';

type End = Balance['alike_ends_by'];
const ends_said: Record<End, string> = {
  front_grip: 'the front tyre reaches its grip: more is a fall', rear_grip: 'the rear tyre starts to skid', rear_lift: 'the rear wheel lifts', lever_force: 'the hand has no more',
};
const ends_short: Record<End, string> = { front_grip: 'front locks', rear_grip: 'rear skids', rear_lift: 'rear lifts', lever_force: 'hand at its end' };

//! What ends it in most of the likely cases, and in what share of them.
export function alike_ends(b: Balance): { by: End; share: number } {
  const all = Object.entries(b.alike_ends_share) as [End, number][];
  const [by, share] = all.reduce((most, one) => (one[1] > most[1] ? one : most));
  return { by, share };
}

const slowing = (i: Parameters<typeof whole_interval>[0], system: System): string => {
  const w = whole_interval(i);
  return w ? interval_text(w, 'deceleration_mps2', system) : 'not said';
};

export function balance_said(b: Balance, system: System): string {
  const { by, share } = alike_ends(b), pull = whole_interval(b.alike_lever_force_N);
  return `Both levers pulled alike${pull ? ` end with ${interval_text(pull, 'force_N', system)} on each` : ''}, at ${slowing(b.alike_mps2, system)}: ${ends_said[by]}${share < 0.995 ? `, in ${Math.floor(share * 100)} % of the likely cases` : ''}. Shared in the best way road and brakes allow ${slowing(b.best_mps2, system)}; these are limits, not aims.`;
}

//! Sum of both tyres' forces, N, that slows by a m/s²: slowing is straight in the sum.
export function sum_for(best: Tyres[], a: number): number {
  const first = best[0], last = best[best.length - 1];
  if (!first || !last || last.deceleration_mps2 <= first.deceleration_mps2) return NaN;
  const sum = (t: Tyres) => t.front_N + t.rear_N;
  return sum(first) + ((a - first.deceleration_mps2) / (last.deceleration_mps2 - first.deceleration_mps2)) * (sum(last) - sum(first));
}

export function balance_figure(b: Balance, system: System): Figure {
  const force = (v: number) => converted(v, 'force_N', system), unit = unit_of('force_N', system);
  const at = (t: { front_N: number; rear_N: number }) => ({ x: force(t.front_N), y: force(t.rear_N) });
  const best = b.best.map(at), alike = b.alike.map(at), end = alike[alike.length - 1] ?? { x: 0, y: 0 };
  const peak = Math.max(...best.map((p) => p.y), end.y, at(b.rear_skids[0] as Tyres).y);
  const wide = Math.max(force(b.rear_lifts_N), end.x) * 1.04, high = peak * 1.3;
  const steps = [1, 2, 3, 4, 5, 6, 7, 8].map((i) => (system === 'metric' ? i : 5 * i)).map((a) => ({ a, sum: force(sum_for(b.best, a / converted(1, 'deceleration_mps2', system))) })).filter((s) => s.sum > 0 && s.sum < force(b.rear_lifts_N) * 1.02);
  const line = (two: Tyres[]) => two.map(at);
  const rows: [string, Parameters<typeof whole_interval>[0]][] = [
    ['both, shared in the best way', b.best_mps2], ['both levers pulled alike', b.alike_mps2], ['front alone', b.front_alone_mps2], ['rear alone', b.rear_alone_mps2], ['the rear wheel lifts at', b.rear_lift_mps2],
  ];
  return {
    id: 'front-and-rear',
    title: 'Front against rear',
    says: balance_said(b, system),
    caption: `${balance_said(b, system)} Across: force at the front tyre; upward: at the rear. The curve uses both tyres alike; the firm line is this bike with both levers pulled alike, up to its dot. Grey lines join what slows alike, in ${unit_of('deceleration_mps2', system)}.`,
    interval: 'Lines: the middle of the likely cases. Figures in the text and table: 5 to 95 % of all of them.',
    assumptions: [`Grip ${whole_interval(b.grip) ? interval_text(whole_interval(b.grip)!, 'plain', 'metric') : 'as asked'}, a rider who stays where they sit.`], sources: ['This bike’s description through docs/models/balance.md and stop.md.'],
    table: { head: ['brakes', 'slows by at most'], rows: [...rows.map(([label, i]) => [label, slowing(i, system)]), ...(Object.entries(b.alike_ends_share) as [End, number][]).filter(([, s]) => s > 0).map(([by, s]) => [`pulled alike, ends because ${ends_said[by]}`, `${Math.round(s * 100)} % of the cases`])] },
    draw: (width) =>
      plot({
        width: Math.min(width, 560), height: Math.min(width, 560) * 0.62 + 46, marginLeft: 52, marginRight: 18, marginTop: 12, marginBottom: 42,
        x: { domain: [0, wide], label: `front tyre, ${unit}`, labelAnchor: 'right', labelArrow: 'none', ticks: Math.max(3, Math.round(width / 110)), tickSize: 4 },
        y: { domain: [0, high], label: `rear tyre, ${unit}`, labelArrow: 'none', ticks: 4, tickSize: 4 },
        clip: true,
        marks: [
          ...steps.map((s) => Plot.line([{ x: 0, y: s.sum }, { x: s.sum, y: 0 }], { x: 'x', y: 'y', stroke: 'var(--line)', strokeWidth: 1 })),
          Plot.text(steps, { x: (s: (typeof steps)[number]) => s.sum, y: 0, dy: -8, text: (s: (typeof steps)[number]) => `${s.a}`, fill: 'var(--soft)', fontSize: 12 }),
          Plot.line(line(b.rear_skids), { x: 'x', y: 'y', stroke: 'var(--look)', strokeWidth: 1.5, strokeDasharray: '6 4' }),
          ...(b.front_locks ? [Plot.line(line(b.front_locks), { x: 'x', y: 'y', stroke: 'var(--hold)', strokeWidth: 1.5, strokeDasharray: '6 4' })] : []),
          Plot.line(best, { x: 'x', y: 'y', stroke: 'var(--ink)', strokeWidth: 2, curve: 'monotone-x' }),
          Plot.text([best[Math.floor(best.length * 0.7)] ?? end], { x: 'x', y: 'y', text: () => 'best sharing', textAnchor: 'end', dx: -8, dy: 12, fontSize: 12, fill: 'var(--ink)' }),
          Plot.line(alike, { x: 'x', y: 'y', stroke: 'var(--act)', strokeWidth: 4 }),
          Plot.dot([end], { x: 'x', y: 'y', r: 5, fill: 'var(--act)' }),
          Plot.text([end], { x: 'x', y: 'y', text: () => `both alike: ${ends_short[b.alike_ends_by]}`, textAnchor: end.x > wide / 2 ? 'end' : 'start', dx: end.x > wide / 2 ? -9 : 9, dy: -9, fontWeight: 650, fontSize: 12.5, fill: 'var(--ink)' }),
          Plot.text([{ x: 0, y: at(b.rear_skids[0] as Tyres).y }], { x: 'x', y: 'y', text: () => 'above: the rear skids', textAnchor: 'start', dx: 6, dy: -12, fontSize: 12, fill: 'var(--look)' }),
          ...(b.front_locks && force((b.front_locks[0] as Tyres).front_N) < wide ? [Plot.text([at(b.front_locks[0] as Tyres)], { x: 'x', y: 'y', text: () => 'right: the front locks, a fall', textAnchor: 'end', dx: -6, dy: -26, fontSize: 12, fill: 'var(--hold)' })] : []),
        ],
      }),
  };
}
