// SPDX-License-Identifier: Apache-2.0
// Sentences of the program in the units asked for: it writes metric, each figure with its unit.            Layer: web
// No two figures that differ become equal, so none is rounded across its limit: the step of the printed figure is never
// coarser than that of the metric one, and figures of one unit that stand near each other in a text share the finest step.
import type { Figure } from './figures/figure';
import { day_text, type System } from './units';

type To = { unit: string; factor: number; offset?: number };
const pound_force_N = 0.45359237 * 9.80665;
// What nobody measures otherwise stays: seconds, degrees of a turn, W, kJ, and g, which is the weight of a pad or gravity.
const to: Record<string, To> = {
  'µm': { unit: 'thou', factor: 1 / 25.4 }, mm: { unit: 'in', factor: 1 / 25.4 }, cm: { unit: 'in', factor: 1 / 2.54 }, m: { unit: 'ft', factor: 1 / 0.3048 }, km: { unit: 'mi', factor: 1 / 1.609344 },
  'mm²': { unit: 'in²', factor: 1 / 25.4 ** 2 }, mm2: { unit: 'in²', factor: 1 / 25.4 ** 2 }, 'm²': { unit: 'ft²', factor: 1 / 0.3048 ** 2 }, m2: { unit: 'ft²', factor: 1 / 0.3048 ** 2 },
  'km/h': { unit: 'mph', factor: 1 / 1.609344 }, 'm/s': { unit: 'mph', factor: 3.6 / 1.609344 }, 'm/s²': { unit: 'ft/s²', factor: 1 / 0.3048 }, 'mm/s²': { unit: 'in/s²', factor: 1 / 25.4 },
  '°C': { unit: '°F', factor: 1.8, offset: 32 }, degC: { unit: '°F', factor: 1.8, offset: 32 }, K: { unit: '°F', factor: 1.8 },
  N: { unit: 'lbf', factor: 1 / pound_force_N }, 'N m': { unit: 'lbf ft', factor: 1 / (pound_force_N * 0.3048) }, kg: { unit: 'lb', factor: 1 / 0.45359237 }, bar: { unit: 'psi', factor: (1e5 * 0.0254 ** 2) / pound_force_N },
};
const number = '[−-]?\\d{1,3}(?:,\\d{3})+(?:\\.\\d+)?|[−-]?\\d+(?:\\.\\d+)?';
const unit = Object.keys(to).sort((a, b) => b.length - a.length).join('|');
// "4 mm", "2 to 4 mm", "between 2 and 4 mm", "4 ± 1 mm", and what may follow: "4 mm (3 to over 6)".
const figure = new RegExp(
  `(?<![\\w.,:/°-])(?:(?<a>${number})(?<sep> to | to over | or |–| ± |(?<=between (?:${number})) and ))?(?<b>${number})(?<gap>[ \\u00a0])(?<unit>${unit})(?![\\w²³/°(])(?![ \\u00a0](?:m|m²|m2|K)(?!\\w))(?:(?<open>[ \\u00a0]\\()(?<c>${number})(?<sep2> to | to over )(?<d>${number})(?<close>\\)))?`, 'gu');

// "4 (3 to 6) mm", said as "4 mm (3 to 6)".
const unit_last = new RegExp(`(?<![\\w.,:/°-])(${number}) \\((${number})( to | to over )(${number})\\)[ \\u00a0](${unit})(?![\\w²³/°(])`, 'gu');
const value_of = (text: string): number => Number(text.replace(/,/g, '').replace('−', '-'));
//! Of its last digit: 2 for 2.60, 0 for 26, −2 for 2,600.
const decimals_of = (text: string): number => (text.includes('.') ? text.split('.')[1]!.length : -(/(?<=[1-9][\d,]*)0+$/.exec(text.replace(/,/g, ''))?.[0].length ?? 0));

//! One figure in a unit that was asked for, at `decimals` of the metric one; `difference`: no zero point moves.
function one(text: string, as: To, decimals: number, difference: boolean): string {
  const value = value_of(text) * as.factor + (difference ? 0 : (as.offset ?? 0));
  // At least three digits where the metric one is round: 400 N is not 90 lbf.
  const own = Math.floor(Math.log10(10 ** -decimals * as.factor) + 1e-9), whole = Math.floor(Math.log10(10 ** -Math.max(0, decimals) * as.factor) + 1e-9);
  const step = own === whole || value === 0 ? own : Math.max(whole, Math.min(own, Math.floor(Math.log10(Math.abs(value))) - 2));
  const rounded = step > 0 ? Math.round(value / 10 ** step) * 10 ** step : value;
  const places = Math.max(0, -step);
  const said = new Intl.NumberFormat('en-GB', { minimumFractionDigits: places, maximumFractionDigits: places }).format(rounded);
  return /^-0(\.0*)?$/.test(said) ? said.slice(1) : said.replace('-', '−');
}

// Words of people stand in “ ” in a sentence of the program, names that they gave in ' ': a record is not rewritten.
// What a person typed may hold such marks itself: a “ is closed by its own ”, or by none, and then the rest stays too.
const quoted_name = /(?<![\p{L}\d)])'.*?'(?![\p{L}\d])/gu;
function quotes_of(text: string): string[] {
  const found: string[] = [];
  for (let at = text.indexOf('“'); at >= 0; ) {
    let depth = 0, end = at;
    for (; end < text.length; ++end) {
      if (text[end] === '“') ++depth;
      if (text[end] === '”' && --depth === 0) break;
    }
    found.push(text.slice(at, end + 1));
    at = text.indexOf('“', end + 1);
  }
  return found;
}

// What is not a person's words or name, through `said`.
function around_quotes(text: string, said: (open: string) => string): string {
  const kept: string[] = [];
  const keep = (words: string) => `\uE000${String.fromCharCode(0xe001 + kept.push(words) - 1)}`;
  let open = text;
  for (const words of quotes_of(text)) open = open.replace(words, () => keep(words));
  open = open.replace(quoted_name, keep);
  return said(open).replace(/\uE000(.)/gu, (_, c: string) => kept[c.charCodeAt(0) - 0xe001] ?? '');
}

//! The same sentence in the units asked for; words of people in it stay. Metric: as it is.
export function in_units(metric: string, system: System): string {
  return system === 'metric' || !/\d/.test(metric) ? metric : around_quotes(metric, converted_text);
}

const lone_day = /(?<=^|[\s(])\d{4}-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12]\d|3[01])(?=$|[\s),;:]|\.(?:\s|$))/gu;
//! Days as people say them: "on 2026-05-01" is "on 1 May 2026". Not in times, names of files, words of people.
export const with_days = (text: string): string => (/\d{4}-\d/.test(text) ? around_quotes(text, (open) => open.replace(lone_day, (day) => day_text(day))) : text);

function converted_text(metric: string): string {
  const text = metric.replace(unit_last, '$1 $5 ($2$3$4)');
  const all: { unit: string; size: number; decimals: number }[] = [];
  for (const m of text.matchAll(figure))
    for (const n of [m.groups!.a, m.groups!.b, m.groups!.c, m.groups!.d]) if (n) all.push({ unit: m.groups!.unit!, size: Math.abs(value_of(n)), decimals: decimals_of(n) });
  const finest = (n: string, of: string): number => {
    const size = Math.abs(value_of(n));
    return Math.max(...all.filter((x) => x.unit === of && (x.size <= 20 * size && size <= 20 * x.size || x.size === size)).map((x) => x.decimals));
  };
  return text.replace(figure, (...args: unknown[]) => {
    const g = args[args.length - 1] as Record<string, string | undefined>;
    const name = g.unit!, as = to[name]!;
    const said = (n: string, difference = false) => one(n, as, finest(n, name), difference);
    return `${g.a ? said(g.a) + g.sep! : ''}${said(g.b!, g.sep === ' ± ')}${g.gap}${as.unit}${g.c ? `${g.open}${said(g.c)}${g.sep2}${said(g.d!)}${g.close}` : ''}`;
  });
}

//! What stands beside a drawing, which is drawn in these units itself. Sources stay as they are written.
export const figure_in = (figure: Figure, system: System): Figure => {
  if (system === 'metric') return figure;
  const all = (texts: string[]) => texts.map((text) => in_units(text, system));
  return {
    ...figure, title: in_units(figure.title, system), says: in_units(figure.says, system), caption: in_units(figure.caption, system), interval: in_units(figure.interval, system), assumptions: all(figure.assumptions),
    ...(figure.claims ? { claims: all(figure.claims) } : {}), table: { head: all(figure.table.head), rows: figure.table.rows.map(all) },
  };
};

//! What a standard asks and what the bike does, in one unit and to one step.
export function beside(need: string | null, have: string | null, unit: string | undefined, system: System): [string | null, string | null] {
  const both = in_units(`${need ?? ''} ${unit ?? ''} | ${have ?? ''} ${unit ?? ''}`, system).split(' | ');
  return [need === null ? null : both[0]!, have === null ? null : both[1]!];
}
