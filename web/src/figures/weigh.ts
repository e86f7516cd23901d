// SPDX-License-Identifier: Apache-2.0
// Two set-ups on the same likely cases and rides: one drawing, differences only.                          Layer: web, figures
import * as Plot from '@observablehq/plot';
import { in_units } from '../said';
import { key_words } from '../words';
import type { Weigh, WeighFigure } from '../wire';
import { converted, number_text, percent, significant, unit_of, type Interval, type Quantity, type System } from '../units';
import { band_marks, margin_for, plot, type Figure } from './figure';

const quantities: Record<string, Quantity> = { m: 'room_m', degC: 'temperature_degC', '°C': 'temperature_degC', N: 'force_N', km: 'ride_m', mm: 'length_mm', J: 'energy_J', 'm/s2': 'deceleration_mps2', mps2: 'deceleration_mps2' };

//! A difference of a quantity: scaled, never shifted (a kelvin is not 32 °F).
function difference_text(v: number, unit: string, system: System): string {
  const q = quantities[unit];
  const scaled = q ? converted(v * (unit === 'km' ? 1000 : 1), q, system) - converted(0, q, system) : v;
  return significant(Math.abs(scaled), 2);
}
const unit_text = (unit: string, system: System): string => (quantities[unit] === 'temperature_degC' ? (system === 'metric' ? 'K' : '°F') : quantities[unit] ? unit_of(quantities[unit] as Quantity, system) : unit);

//! Temperatures, boiling and fading are of one ride each: which one stands with them where there are several.
export const label_of = (weigh: Weigh, f: { text: string; ride?: number | null }, system: System): string => {
  const text = in_units(f.text, system);
  const ride = f.ride === null || f.ride === undefined || (weigh.rides?.length ?? 0) < 2 ? undefined : weigh.rides?.[f.ride];
  return ride ? `${text}, ${ride.file.replace(/\.[a-z]+(\.gz)?$/i, '')}` : text;
};

export type WeighRow = { figure: WeighFigure; label: string; relative: Interval; words: string };

//! Differences as a share of the first set-up's middle, so that one axis can carry them all; greatest first.
export function weigh_rows(weigh: Weigh, system: System, most = 14): WeighRow[] {
  const rows: WeighRow[] = [];
  for (const f of weigh.figures) {
    if (!f.difference || !f.a || f.a.p50 === 0) continue;
    const scale = Math.abs(f.a.p50);
    const relative = { p05: f.difference.p05 / scale, p50: f.difference.p50 / scale, p95: f.difference.p95 / scale };
    if (Math.abs(relative.p50) < 0.005) continue;
    const way = f.difference.p50 < 0 ? 'less' : 'more';
    const share = Math.max(f.b_larger_share ?? 0, f.b_smaller_share ?? 0);
    rows.push({ figure: f, label: label_of(weigh, f, system), relative, words: `${difference_text(f.difference.p50, f.unit, system)} ${unit_text(f.unit, system)} ${way}${share ? share > 0.995 ? ', in all or nearly all of the cases' : `, in ${percent(share)} of the cases` : ''}` });
  }
  return rows.sort((x, y) => Math.abs(y.relative.p50) - Math.abs(x.relative.p50)).slice(0, most);
}

// Words that lie over the line of no difference.
const over_line = { fill: 'var(--ink)', fontSize: 12, stroke: 'var(--paper)', strokeWidth: 4 } as const;

export function weigh_figure(weigh: Weigh, system: System): Figure {
  const rows = weigh_rows(weigh, system);
  const better = (r: WeighRow) => (r.figure.wanted === 'less' ? r.figure.difference!.p50 < 0 : r.figure.difference!.p50 > 0);
  const value = (i: Interval | null, unit: string) => {
    if (!i) return 'not known';
    const q = quantities[unit] ?? 'plain';
    const k = unit === 'km' ? 1000 : 1;
    return `${number_text(i.p50 * k, q, system, 2)} (${number_text(i.p05 * k, q, system, 2)} to ${number_text(i.p95 * k, q, system, 2)})`;
  };
  return {
    id: 'weigh-up',
    title: `${weigh.b.name} against ${weigh.a.name}`,
    says: rows.map((r) => `${r.label}: ${r.words}`).join('; '),
    caption: `What changes with “${weigh.b.name}” in place of “${weigh.a.name}”, as a share of the first. Filled triangle: towards what a brake wants; open triangle: away from it.`,
    interval: 'Each likely case is compared with itself; bands run from the 5 to the 95 % point of the differences.',
    assumptions: weigh.assumed.filter((a) => a.grade !== 'measured').slice(0, 8).map((a) => key_words(a.key)),
    sources: ['Both set-ups over the same rides, through the models of docs/models; each number of the models with its source in data/.'],
    table: {
      head: ['what', weigh.a.name, weigh.b.name, 'difference'],
      rows: weigh.figures.map((f) => [`${label_of(weigh, f, system)}, ${unit_text(f.unit, system)}`, value(f.a, f.unit), value(f.b, f.unit), f.difference ? `${f.difference.p50 < 0 ? '−' : '+'}${difference_text(f.difference.p50, f.unit, system)} (${f.difference.p05 < 0 ? '−' : '+'}${difference_text(f.difference.p05, f.unit, system)} to ${f.difference.p95 < 0 ? '−' : '+'}${difference_text(f.difference.p95, f.unit, system)})` : 'not known']),
    },
    draw: (width) => {
      const narrow = width < 620;
      const data = rows.map((r, i) => ({ label: String(i), text: r.label, words: r.words, value: { p05: r.relative.p05 * 100, p50: r.relative.p50 * 100, p95: r.relative.p95 * 100 }, colour: better(r) ? 'var(--act)' : 'var(--look)', mark: better(r) ? '▲' : '△' }));
      const far = Math.min(200, Math.max(10, ...data.flatMap((d) => [Math.abs(d.value.p05), Math.abs(d.value.p95)])) * 1.08);
      const two_lines = data.some((d) => d.text.length * 6.2 + 15 > width - 22);   // long ones go on beneath
      const left = narrow ? 10 : Math.min(0.42 * width, 420, margin_for(data.map((d) => d.text)));
      return plot({
        width, height: data.length * (narrow ? (two_lines ? 82 : 66) : 40) + 52, marginLeft: left, marginRight: 12, marginTop: narrow ? 18 : 8, marginBottom: 42,
        x: { domain: [-far, far], label: 'difference, % of the first', labelAnchor: 'right', labelArrow: 'none', ticks: Math.max(3, Math.round(width / 130)), tickSize: 4, tickFormat: (v: number) => (v > 0 ? `+${v}` : v < 0 ? `−${-v}` : '0') },
        y: { domain: data.map((d) => d.label), axis: null, padding: narrow ? 0.7 : 0.4 },
        marks: [
          // On a phone the words stand above their band, so the line of no difference is drawn at each band only.
          narrow ? Plot.tickX(data, { x: 0, y: 'label', stroke: 'var(--ink)', insetTop: 3, insetBottom: -1 }) : Plot.ruleX([0], { stroke: 'var(--ink)' }),
          ...band_marks(data),
          ...(narrow
            ? [
                Plot.text(data, { x: -far, y: 'label', text: (d: (typeof data)[number]) => `${d.mark} ${d.text}`, textAnchor: 'start', dy: -27, lineAnchor: 'bottom', ...over_line, lineWidth: (width - 22) / 12 }),
                Plot.text(data, { x: -far, y: 'label', text: (d: (typeof data)[number]) => d.words, textAnchor: 'start', dx: 15, dy: -18, ...over_line }),
              ]
            : [
                Plot.text(data, { x: -far, y: 'label', text: 'text', textAnchor: 'end', dx: -12, fill: 'var(--ink)', fontSize: 12.5, lineWidth: left / 12.5 - 1 }),
                Plot.text(data, { x: 0, y: 'label', text: (d: (typeof data)[number]) => `${d.mark} ${d.words}`, textAnchor: 'start', dx: 8, dy: -16, ...over_line }),
              ]),
        ],
      });
    },
  };
}
