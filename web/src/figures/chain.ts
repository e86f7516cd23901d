// SPDX-License-Identifier: Apache-2.0
// From hand to road: each stage of one brake with what it gives and what it loses.                         Layer: web, figures
import type { ChainStage, WheelName } from '../wire';
import { number_text, percent, significant, unit_of, type System } from '../units';
import { el, fresh_id, sheet_of, type Figure } from './figure';

//! A force or what stands for it, in the user's unit: newtons, bar, newton metres.
export function stage_value(v: number, unit: string, system: System): string {
  if (unit === 'N') return `${number_text(v, 'force_N', system, 2)} ${unit_of('force_N', system)}`;
  if (unit === 'Pa') return system === 'metric' ? `${significant(v / 1e5, 2)} bar` : `${significant(v / 6894.757, 2)} psi`;   // 1 psi = 6894.757 Pa
  if (unit === 'N m') return system === 'metric' ? `${significant(v, 2)} N m` : `${significant(v / 1.355818, 2)} lbf ft`;   // 1 lbf ft = 1.355818 N m
  return `${significant(v, 2)} ${unit}`;
}

//! Share of the bar for a force: a decade takes the same room everywhere, 5 N to 5 kN.
export const force_share = (newton: number): number => Math.min(1, Math.max(0.02, (Math.log10(Math.max(newton, 5)) - Math.log10(5)) / 3));

export function chain_figure(wheel: WheelName, all: ChainStage[], system: System): Figure | null {
  const stages = all.filter((s) => s.wheel === wheel);
  const first = stages[0], last = stages[stages.length - 1];
  if (!first || !last) return null;
  const lost = stages.filter((s) => s.loss >= 0.005);
  const ratio = first.in_unit === last.out_unit && first.in > 0 ? last.out / first.in : null;
  return {
    id: `${wheel}-chain`,
    title: `${wheel === 'front' ? 'Front' : 'Rear'} brake, from hand to road`,
    says: `${stage_value(first.in, first.in_unit, system)} at the lever become ${stage_value(last.out, last.out_unit, system)} at the ${wheel} tyre. ${lost.map((s) => `${s.stage} loses ${percent(s.loss)}`).join(', ')}.`,
    caption: `${stage_value(first.in, first.in_unit, system)} at the lever become ${stage_value(last.out, last.out_unit, system)} at the tyre${ratio ? `, ${significant(ratio, 2)} times as much` : ''}. A bar is the force after its stage, on a scale where each tenfold takes the same length; hatched is what the stage loses.`,
    interval: 'The middle of the likely cases at the squeeze of an ordinary stop.',
    assumptions: ['Losses of seals, springs, hose or housing are assumed until a proof stop tells of them.'], sources: ['This bike’s description through docs/models/stop.md; losses with their sources in data/stop.toml.'],
    table: { head: ['stage', 'in', 'out', 'lost'], rows: stages.map((s) => [s.stage, stage_value(s.in, s.in_unit, system), stage_value(s.out, s.out_unit, system), s.loss >= 0.0005 ? percent(s.loss) : '–']) },
    draw: (width) => {
      const w = Math.min(width, 460), row = 46, bar_h = 14, left = 4, right = 4;
      const hatch = fresh_id('lost');
      const out: SVGElement[] = [
        el('defs', {}, el('pattern', { id: hatch, width: 5, height: 5, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)' }, el('path', { d: 'M0 0V5', stroke: 'var(--look)', 'stroke-width': 2 }))),
        el('text', { x: left, y: 14, 'font-weight': 650 }, `finger on the ${wheel} lever, ${stage_value(first.in, first.in_unit, system)}`),
      ];
      stages.forEach((s, i) => {
        const y = 26 + i * row;
        out.push(el('text', { x: left, y: y + 13, 'font-size': 12.5 }, s.stage));
        out.push(el('text', { x: w - right, y: y + 13, 'text-anchor': 'end', 'font-weight': 650, 'font-size': 13 }, stage_value(s.out, s.out_unit, system)));
        const full = w - left - right;
        if (s.out_unit === 'N') {
          const to = left + full * force_share(s.out);
          out.push(el('rect', { x: left, y: y + 19, width: to - left, height: bar_h, fill: 'var(--act)', 'fill-opacity': 0.75 }));
          if (s.loss >= 0.005 && s.in_unit === 'N') {
            const lost_to = left + full * force_share(s.in);
            out.push(el('rect', { x: to, y: y + 19, width: Math.max(2, lost_to - to), height: bar_h, fill: `url(#${hatch})`, stroke: 'var(--look)' }));
            out.push(el('text', { x: lost_to + 6, y: y + 30, 'font-size': 12, fill: 'var(--look)' }, `${percent(s.loss)} lost`));
          }
        } else out.push(el('path', { d: `M${left} ${y + 26}h${full * 0.5}`, stroke: 'var(--soft)', 'stroke-dasharray': '2 4', fill: 'none' }));
      });
      return sheet_of(w, 26 + stages.length * row + 4, ...out);
    },
  };
}
