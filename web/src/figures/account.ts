// SPDX-License-Identifier: Apache-2.0
// Where the height went: the energy account of a ride, what could not be explained as a row of its own.   Layer: web, figures
import * as Plot from '@observablehq/plot';
import type { Ride } from '../wire';
import { converted, number_text, unit_of, type System } from '../units';
import { margin_for, plot, type Figure } from './figure';

type Account = NonNullable<Ride['account_J']>;
export function account_rows(account: Account): { label: string; in_J: number; side: 'in' | 'out' }[] {
  const in_ = [['height lost', account.height], ['speed lost', account.motion], ['rider’s work', account.rider]] as const;
  const out = [['air', account.air], ['rolling', account.rolling], ['brakes', account.brakes], ['not explained', account.unexplained]] as const;
  return [...in_.map(([label, v]) => ({ label, in_J: v ?? 0, side: 'in' as const })), ...out.map(([label, v]) => ({ label, in_J: v ?? 0, side: 'out' as const }))];
}

// Rows that add up share their last digit as far as it can be read: none is finer than a tenth.
const kJ = (v: number): string => (Math.abs(v) < 0.05 ? '0' : Math.abs(v) < 9.95 ? v.toFixed(1) : new Intl.NumberFormat('en-GB', { maximumFractionDigits: 0 }).format(v)).replace('-', '−');

export function account_figure(account: Account, system: System): Figure {
  const rows = account_rows(account).map((r) => ({ ...r, v: converted(r.in_J, 'energy_J', system), text: kJ(r.in_J / 1000) }));
  const least = Math.min(0, ...rows.map((r) => r.v)), most = Math.max(1, ...rows.map((r) => r.v));
  return {
    id: 'where-the-height-went',
    title: 'Where the height went',
    says: rows.map((r) => `${r.label} ${r.text} ${unit_of('energy_J', system)}`).join('; '),
    caption: 'Height and speed lost, and the rider’s work, against air, rolling and brakes. What the models could not explain has its own row; it is never hidden in the brakes.',
    interval: 'Means over the likely cases: means add up, intervals do not.', assumptions: ['Mass, drag and rolling of the likely cases.'], sources: ['The recording, through the model of motion (docs/models/motion.md).'],
    table: { head: ['', unit_of('energy_J', system)], rows: rows.map((r) => [r.label, r.text]) },
    draw: (width) => plot({
      width, height: rows.length * 26 + 46, marginLeft: margin_for(rows.map((r) => r.label)), marginRight: 52, marginTop: 6, marginBottom: 40,
      x: { domain: [least, most], label: unit_of('energy_J', system), labelAnchor: 'right', labelArrow: 'none', ticks: Math.max(3, Math.round(width / 120)), tickSize: 4 },
      y: { domain: rows.map((r) => r.label), label: null, tickSize: 0, padding: 0.25 },
      marks: [
        Plot.barX(rows, { x1: 0, x2: 'v', y: 'label', fill: (r: (typeof rows)[number]) => (r.label === 'brakes' ? 'var(--act)' : r.side === 'in' ? 'var(--ink)' : 'var(--soft)') }),
        Plot.ruleX([0], { stroke: 'var(--ink)' }),
        Plot.text(rows, { x: (r: (typeof rows)[number]) => Math.max(0, r.v), y: 'label', text: 'text', textAnchor: 'start', dx: 6, fill: 'var(--ink)', fontSize: 12.5 }),
      ],
    }),
  };
}
