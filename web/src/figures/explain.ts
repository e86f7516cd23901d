// SPDX-License-Identifier: Apache-2.0
// The figures that explain: heat, lives and levers of invented bikes and riders, drawn from the commands' own tables.  Layer: web, figures
import * as Plot from '@observablehq/plot';
import type { ExplainFigure } from '../wire';
import { converted, interval_text, number_text, percent, unit_of, type Interval, type Quantity, type System } from '../units';
import { band_marks, el, margin_for, plot, sheet_of, wrapped, type Figure } from './figure';

type Cell = number | string | null;
const words: Record<string, string> = {
  semi_metallic: 'semi-metallic', short_hard: 'short and hard', e_bike: 'e-bike', dot3: 'DOT 3', dot4: 'DOT 4', dot5_1: 'DOT 5.1', mineral: 'mineral oil', own: 'own weather', women_50: 'a middle woman’s hand',
  with: 'with a barrier', without: 'without',
};
const word = (name: Cell | undefined): string => words[String(name)] ?? String(name).replace(/_/g, ' ');
//! "dot4 24 months" -> "DOT 4, 24 months"
const claim_words = (text: string): string => text.replace(/\bdot(3|4|5_1)\b/, (_, g: string) => `DOT ${g.replace('_', '.')}`).replace(/^./, (c) => c.toUpperCase());

export type Row = Record<string, Cell>;
export function rows_of(told: ExplainFigure): Row[] {
  const names = Object.keys(told.columns), n = Math.max(0, ...names.map((k) => told.columns[k]!.length));
  return Array.from({ length: n }, (_, i) => Object.fromEntries(names.map((k) => [k, (told.columns[k]![i] ?? null) as Cell])));
}

//! An interval of a row whose points are called `stem_p05unit`, or nothing where any is not known.
export function interval_in(row: Row, stem: string, unit: string): Interval | null {
  const [p05, p50, p95] = ['p05', 'p50', 'p95'].map((p) => row[`${stem}_${p}${unit}`]);
  return typeof p05 === 'number' && typeof p50 === 'number' && typeof p95 === 'number' ? { p05, p50, p95 } : null;
}

type Point = { x: number; low: number | null; mid: number; high: number | null };
type Series = { name: string; points: Point[] };
type Panel = { title: string; series: Series[]; y_unit: string; zero?: boolean };

const strokes = ['var(--act)', 'var(--look)', 'var(--ink)', 'var(--soft)', 'var(--act)'] as const;
const dashes = ['none', '7 4', '2 3', '10 3 2 3', '3 6'] as const;

// A drawing inside another one: the sheet's rules are for whole drawings.
function within(part: SVGSVGElement, y: number): SVGSVGElement {
  part.removeAttribute('class');
  part.setAttribute('font-family', 'inherit');
  part.setAttribute('y', String(y));
  return part;
}

// Panels under each other over one axis; a line and its band for each series, told apart by dashes before colours.
function draw_panels(width: number, panels: Panel[], x_label: string, ticks?: number[]): SVGSVGElement {
  const names = [...new Set(panels.flatMap((p) => p.series.map((s) => s.name)))];
  const out: SVGElement[] = [];
  let y = 4, x = 2;
  if (names.length > 1) {
    for (const [i, name] of names.entries()) {
      const room = 44 + name.length * 7.2;
      if (x > 2 && x + room > width) x = 2, y += 20;
      out.push(el('path', { d: `M${x} ${y + 9}h28`, stroke: strokes[i % strokes.length]!, 'stroke-width': 2.5, 'stroke-dasharray': dashes[i % dashes.length]!, fill: 'none' }));
      out.push(el('text', { x: x + 34, y: y + 13 }, name));
      x += room;
    }
    y += 28;
  }
  const all = panels.flatMap((p) => p.series.flatMap((s) => s.points.map((q) => q.x)));
  const domain: [number, number] = [Math.min(...all), Math.max(...all)];
  for (const [k, panel] of panels.entries()) {
    const last = k === panels.length - 1, values = panel.series.flatMap((s) => s.points.flatMap((q) => [q.low ?? q.mid, q.mid, q.high ?? q.mid]));
    const height = last ? 190 : 156;
    const lines = wrapped(panel.title + (panel.y_unit ? `, ${panel.y_unit}` : ''), Math.floor((width - 8) / 7.4));
    for (const [i, line] of lines.entries()) out.push(el('text', { x: 2, y: y + 13 + 16 * i, 'font-weight': 650 }, line));
    y += 16 * (lines.length - 1);
    const part = plot({
      width, height, marginLeft: 54, marginRight: 14, marginTop: 8, marginBottom: last ? 42 : 12,
      x: { domain, label: last ? x_label : null, labelAnchor: 'right', labelArrow: 'none', tickSize: 4, ...(ticks ? { ticks, tickFormat: (v: number) => String(v) } : { ticks: Math.max(3, Math.round(width / 110)) }), ...(last ? {} : { axis: null }) },
      y: { domain: [panel.zero ? 0 : Math.min(...values), Math.max(...values)], nice: true, label: null, ticks: 4, tickSize: 4 },
      marks: [
        Plot.ruleY([0].filter(() => panel.zero), { stroke: 'var(--line)' }),
        ...panel.series.filter((s) => s.points.some((q) => q.low !== null)).map((s) => Plot.areaY(s.points, { x: 'x', y1: 'low', y2: 'high', fill: strokes[names.indexOf(s.name) % strokes.length], fillOpacity: 0.13 })),
        ...panel.series.map((s) => Plot.line(s.points, { x: 'x', y: 'mid', stroke: strokes[names.indexOf(s.name) % strokes.length], strokeWidth: 2, strokeDasharray: dashes[names.indexOf(s.name) % dashes.length] })),
        ...panel.series.filter((s) => s.points.length < 12).map((s) => Plot.dot(s.points, { x: 'x', y: 'mid', r: 3, fill: strokes[names.indexOf(s.name) % strokes.length] })),
      ],
    });
    out.push(within(part, y + 16));
    y += height + 22;
  }
  const svg = sheet_of(width, y, ...out);
  svg.classList.add('plot');
  return svg;
}

const shaded = (told: ExplainFigure): string => `Shaded: 5 to 95 % of ${told.cases ? `the ${told.cases} likely cases` : 'the likely cases'}; the firm line is their middle.`;

// What every one of them has alike.
function made(told: ExplainFigure, interval: string, table: Figure['table'], draw: Figure['draw']): Figure {
  const claims = told.claims.map((c) => `${claim_words(c.text)}: in ${c.holds_share >= 1 && told.cases ? `all ${told.cases} likely cases` : `${percent(Math.min(c.holds_share, 0.99))} of the likely cases`}.`);
  return {
    id: `explain-${told.of}-${told.name.replace(/_/g, '-')}`, title: told.title, caption: told.caption, interval, claims, assumptions: told.assumptions,
    says: [told.title, ...claims].join('. '), sources: told.sources.map((s) => (s.grade === 'published_from_memory' && !/memory/.test(s.text) ? `${s.text} (from memory)` : s.text)), table, draw,
  };
}

const band_text = (i: Interval | null, q: Quantity, system: System, factor = 1): string => (i ? interval_text({ p05: i.p05 * factor, p50: i.p50 * factor, p95: i.p95 * factor }, q, system) : 'not known');

// What a set-up comes to, by the names of the commands' files.
const quantities: [string, string, Quantity][] = [
  ['rotor_peak_degC', 'rotor, hottest', 'temperature_degC'], ['pad_face_peak_degC', 'pad face, hottest', 'temperature_degC'], ['fluid_peak_degC', 'fluid, hottest', 'temperature_degC'], ['caliper_peak_degC', 'caliper, hottest', 'temperature_degC'],
  ['caliper_heat_J', 'heat into the caliper', 'energy_J'], ['brake_energy_J', 'into both brakes', 'energy_J'], ['largest_power_W', 'largest power', 'power_W'], ['lever_force_factor', 'squeeze, hot over cold', 'plain'],
];
function variants_table(told: ExplainFigure, system: System): Figure['table'] {
  const shown = quantities.filter(([key]) => told.variants.some((v) => v.intervals[key]));
  return { head: ['set-up', ...shown.map(([, text]) => text)], rows: told.variants.map((v) => [word(v.name), ...shown.map(([key, , q]) => band_text(v.intervals[key] ?? null, q, system))]) };
}

function series_of(rows: Row[], by: string, x: (r: Row) => number, stem: string, unit: string, q: Quantity, system: System, factor = 1): Series[] {
  const y = (v: number) => converted(v * factor, q, system);
  const out = new Map<string, Point[]>();
  for (const r of rows) {
    const i = interval_in(r, stem, unit);
    if (!i) continue;
    const name = word(r[by] ?? '');
    if (!out.has(name)) out.set(name, []);
    out.get(name)!.push({ x: x(r), low: y(i.p05), mid: y(i.p50), high: y(i.p95) });
  }
  return [...out].map(([name, points]) => ({ name, points }));
}

const number_of = (c: Cell | undefined): number => (typeof c === 'number' ? c : NaN);
const minutes = (r: Row) => number_of(r.t_s) / 60;

function traces(told: ExplainFigure, system: System, parts: [string, string][]): Figure {
  const rows = rows_of(told), unit = unit_of('temperature_degC', system);
  const panels = parts.map(([stem, title]) => ({ title, y_unit: unit, series: series_of(rows, 'variant', minutes, stem, '_degC', 'temperature_degC', system) }));
  return made(told, shaded(told), variants_table(told, system), (width) => draw_panels(width, panels, 'minutes'));
}

// Peaks over a number that was chosen: a diameter, a share of metal.
function peaks(told: ExplainFigure, system: System, x: string, x_label: string, x_text: (v: number) => string, groups: { title: string; rows: Row[]; stems: [string, string][] }[], ticks: number[]): Figure {
  const panels = groups.map((g) => ({ title: g.title, y_unit: unit_of('temperature_degC', system), series: g.stems.flatMap(([stem, name]) => series_of(g.rows.map((r) => ({ ...r, by: name })), 'by', (r) => number_of(r[x]), stem, '_degC', 'temperature_degC', system)) }));
  const stems: [string, string][] = [['rotor_peak', 'rotor'], ['pad_face_peak', 'pad face'], ['fluid_peak', 'fluid']];
  return made(told, shaded(told), {
    head: [x_label, ...(groups.length > 1 ? ['braking'] : []), ...stems.map(([, n]) => `${n}, hottest`)],
    rows: groups.flatMap((g) => g.rows.map((r) => [x_text(number_of(r[x])), ...(groups.length > 1 ? [g.title] : []), ...stems.map(([s]) => band_text(interval_in(r, s, '_degC'), 'temperature_degC', system))])),
  }, (width) => draw_panels(width, panels, x_label, ticks));
}

function rotor_size(told: ExplainFigure, system: System): Figure {
  const rows = rows_of(told);
  return peaks(told, system, 'diameter_mm', 'diameter of the rotor as stamped, mm', (v) => String(v), [{ title: 'Hottest on the drag', rows, stems: [['rotor_peak', 'rotor'], ['fluid_peak', 'fluid']] }], rows.map((r) => number_of(r.diameter_mm)));
}

function holes(told: ExplainFigure, system: System): Figure {
  const rows = rows_of(told).map((r) => ({ ...r, gone: Math.round((1 - number_of(r.solid_share)) * 100) }));
  return peaks(told, system, 'gone', 'metal taken out of the band by holes, %', (v) => String(v), [
    { title: 'Rotor, ten minutes of drag', rows: rows.filter((r) => (r as Row).braking === 'drag'), stems: [['rotor_peak', 'rotor']] },
    { title: 'Rotor, one hard stop', rows: rows.filter((r) => (r as Row).braking === 'stop'), stems: [['rotor_peak', 'rotor']] },
  ], [...new Set(rows.map((r) => r.gone))].sort((a, b) => a - b));
}

function old_fluid(told: ExplainFigure, system: System): Figure {
  const rows = rows_of(told), months = (r: Row) => number_of(r.age_months);
  const kinds = [...new Set(rows.map((r) => r.kind))].filter((k) => rows.some((r) => r.kind === k && interval_in(r, 'boiling_point', '_degC')));
  const missing = [...new Set(rows.map((r) => r.kind))].filter((k) => !kinds.includes(k));
  const panels = kinds.map((k) => {
    const own = rows.filter((r) => r.kind === k);
    return { title: word(k), y_unit: unit_of('temperature_degC', system), series: [
      ...series_of(own.map((r) => ({ ...r, by: 'boils at' })), 'by', months, 'boiling_point', '_degC', 'temperature_degC', system),
      ...series_of(own.map((r) => ({ ...r, by: 'hottest on the drag' })), 'by', months, 'fluid_peak', '_degC', 'temperature_degC', system),
    ] };
  });
  return made(told, `${shaded(told)} ${missing.map((k) => `${word(k)[0]!.toUpperCase()}${word(k).slice(1)} is not drawn: nobody published when it boils.`).join(' ')}`.trim(), {
    head: ['fluid', 'months', 'boils at', 'hottest on the drag', 'passes its point in'],
    rows: rows.map((r) => [word(r.kind ?? ''), String(r.age_months), band_text(interval_in(r, 'boiling_point', '_degC'), 'temperature_degC', system), band_text(interval_in(r, 'fluid_peak', '_degC'), 'temperature_degC', system), typeof r.boils_share === 'number' ? `${percent(r.boils_share)} of the cases` : 'not known']),
  }, (width) => draw_panels(width, panels, 'months since the fluid was changed', [0, 6, 12, 24, 36, 48]));
}

function repeated_stops(told: ExplainFigure, system: System): Figure {
  const rows = rows_of(told), stop = (r: Row) => number_of(r.stop);
  const one = (stem: string) => series_of(rows, 'variant', stop, stem, '_degC', 'temperature_degC', system);
  const panels: Panel[] = [
    { title: 'Front rotor, hottest in each stop', y_unit: unit_of('temperature_degC', system), series: one('rotor_peak') },
    { title: 'Front rotor, just before each stop', y_unit: unit_of('temperature_degC', system), series: one('rotor_before') },
    { title: 'Force at one squeeze, hot over cold', y_unit: '', series: series_of(rows, 'variant', stop, 'hot_over_cold_force', '', 'plain', system), zero: true },
  ];
  return made(told, shaded(told), {
    head: ['bike', 'stop', 'rotor before', 'rotor, hottest', 'hot over cold'],
    rows: rows.filter((r) => r.stop === 1 || r.stop === 10).map((r) => [word(r.variant ?? ''), String(r.stop), band_text(interval_in(r, 'rotor_before', '_degC'), 'temperature_degC', system), band_text(interval_in(r, 'rotor_peak', '_degC'), 'temperature_degC', system), band_text(interval_in(r, 'hot_over_cold_force', ''), 'plain', system)]),
  }, (width) => draw_panels(width, panels, 'stop', [1, 2, 3, 4, 5, 6, 7, 8, 9, 10]));
}

// Two rides down one hill, along the metres descended: one likely case as lines; what both come to, with intervals, beneath.
function down_a_hill(told: ExplainFigure, system: System): Figure {
  const rows = rows_of(told), top = Math.max(...rows.map((r) => number_of(r.altitude_m)));
  const foot = Math.min(...rows.map((r) => number_of(r.altitude_m)));
  const down = (r: Row) => converted(top - number_of(r.altitude_m), 'height_m', system);
  const line = (column: string, q: Quantity): Series[] => [...new Set(rows.map((r) => r.variant))].map((v) => ({
    name: word(v ?? ''), points: rows.filter((r) => r.variant === v && typeof r[column] === 'number' && number_of(r.altitude_m) > foot).map((r) => ({ x: down(r), low: null, mid: converted(number_of(r[column]), q, system), high: null })),
  }));
  const panels: Panel[] = [
    { title: 'Braking power, both wheels', y_unit: unit_of('power_W', system), series: line('brake_power_W', 'power_W'), zero: true },
    { title: 'Front rotor', y_unit: unit_of('temperature_degC', system), series: line('front_rotor_degC', 'temperature_degC') },
    { title: 'Front fluid', y_unit: unit_of('temperature_degC', system), series: line('front_fluid_degC', 'temperature_degC') },
  ];
  const ends = [['rotor_peak_degC', 'rotor'], ['pad_face_peak_degC', 'pad face'], ['fluid_peak_degC', 'fluid']] as const;
  const bands = ends.flatMap(([key, part]) => told.variants.map((v, i) => ({ label: `${part}: ${word(v.name)}`, value: v.intervals[key]!, colour: strokes[i % strokes.length]! })).filter((b) => b.value))
    .map((b) => ({ ...b, value: { p05: converted(b.value.p05, 'temperature_degC', system), p50: converted(b.value.p50, 'temperature_degC', system), p95: converted(b.value.p95, 'temperature_degC', system) } }));
  return made(told, `Lines: one likely case, the middle one. Bands beneath: the hottest of each part, 5 to 95 % of the ${told.cases ?? ''} likely cases.`, variants_table(told, system), (width) => {
    const upper = draw_panels(width, panels, `${unit_of('height_m', system)} descended`);
    const high = Number(upper.getAttribute('height'));
    const lower = rows_of_bands(width, bands, unit_of('temperature_degC', system), false);
    const svg = sheet_of(width, high + 18 + Number(lower.getAttribute('height')), within(upper, 0), el('text', { x: 2, y: high + 12, 'font-weight': 650 }, 'The hottest of each part'), within(lower, high + 18));
    svg.classList.add('plot');
    return svg;
  });
}

function rows_of_bands(width: number, bands: { label: string; value: Interval; colour: string }[], label: string, log: boolean): SVGSVGElement {
  const low = Math.min(...bands.map((b) => b.value.p05)), high = Math.max(...bands.map((b) => b.value.p95));
  return plot({
    width, height: bands.length * 30 + 46, marginLeft: Math.min(margin_for(bands.map((b) => b.label)), width * 0.56), marginRight: 16, marginTop: 4, marginBottom: 40,
    x: { type: log ? 'log' : 'linear', domain: log ? [low / 1.15, high * 1.15] : [Math.min(0, low), high * 1.03], label, labelAnchor: 'right', labelArrow: 'none', ticks: Math.max(3, Math.round(width / (log ? 190 : 120))), tickSize: 4, ...(log ? { tickFormat: (v: number) => v.toLocaleString('en-GB') } : {}) },
    y: { domain: bands.map((b) => b.label), label: null, tickSize: 0, padding: 0.1 },
    marks: [Plot.gridX({ stroke: 'var(--line)', strokeOpacity: 0.6 }), ...band_marks(bands, log)],
  });
}

function riders(told: ExplainFigure, system: System): Figure {
  const rows = rows_of(told), km = (r: Row) => ({ p05: number_of(r.p05_km) * 1000, p50: number_of(r.p50_km) * 1000, p95: number_of(r.p95_km) * 1000 });
  const bands = rows.map((r) => ({ label: `${r.rider}, ${word(r.weather ?? '')}`, value: { p05: converted(km(r).p05, 'ride_m', system), p50: converted(km(r).p50, 'ride_m', system), p95: converted(km(r).p95, 'ride_m', system) }, colour: r.weather === 'dry' ? 'var(--soft)' : 'var(--act)' }));
  return made(told, 'Bands: 5 to 95 % of the likely cases; the firm line is their middle. Each tenfold takes the same length.', {
    head: ['rider', 'weather', 'distance', 'rides', 'descent'],
    rows: rows.map((r) => [String(r.rider), word(r.weather ?? ''), interval_text(km(r), 'ride_m', system), interval_text({ p05: number_of(r.p05_rides), p50: number_of(r.p50_rides), p95: number_of(r.p95_rides) }, 'plain', system), interval_text({ p05: number_of(r.p05_descent_m), p50: number_of(r.p50_descent_m), p95: number_of(r.p95_descent_m) }, 'height_m', system)]),
  }, (width) => rows_of_bands(width, bands, unit_of('ride_m', system), true));
}

function readings(told: ExplainFigure, system: System): Figure {
  const rows = rows_of(told), metres = (r: Row) => ({ p05: number_of(r.p05_km) * 1000, p50: number_of(r.p50_km) * 1000, p95: number_of(r.p95_km) * 1000 });
  const bands = rows.map((r) => ({ label: r.readings === 0 ? 'none yet' : r.readings === 1 ? 'one reading' : `${r.readings} readings`, value: { p05: converted(metres(r).p05, 'ride_m', system), p50: converted(metres(r).p50, 'ride_m', system), p95: converted(metres(r).p95, 'ride_m', system) }, colour: 'var(--act)' }));
  return made(told, 'Bands: 5 to 95 % of the likely cases; the firm line is their middle.', {
    head: ['readings', 'distance left', 'far end over near end', 'thickness then'],
    rows: rows.map((r) => [String(r.readings), interval_text(metres(r), 'ride_m', system), number_text(number_of(r.p95_over_p05), 'plain', system, 2), `${number_text(number_of(r.thickness_p50_mm), 'thickness_mm', system)} (${number_text(number_of(r.thickness_p05_mm), 'thickness_mm', system)} to ${number_text(number_of(r.thickness_p95_mm), 'thickness_mm', system)}) ${unit_of('thickness_mm', system)}`]),
  }, (width) => rows_of_bands(width, bands, `left, ${unit_of('ride_m', system)}`, false));
}

function movers(told: ExplainFigure): Figure {
  const rows = rows_of(told).map((r) => ({ label: key_words(String(r.input)), alone: 100 * number_of(r.first_order), total: 100 * number_of(r.total) })).sort((a, b) => b.total - a.total);
  const text = (v: number) => (v < 0.5 ? 'under 1' : v.toFixed(0));
  return made(told, 'Full bar: alone; outline: with all that it has a part in.', { head: ['input', 'alone, %', 'with all that it has a part in, %'], rows: rows.map((r) => [r.label, text(r.alone), text(r.total)]) }, (width) => plot({
    width, height: rows.length * 28 + 46, marginLeft: Math.min(margin_for(rows.map((r) => r.label)), width * 0.46), marginRight: 34, marginTop: 4, marginBottom: 40,
    x: { domain: [0, Math.max(...rows.map((r) => r.total)) * 1.1], label: '% of the spread', labelAnchor: 'right', labelArrow: 'none', ticks: Math.max(3, Math.round(width / 130)), tickSize: 4 },
    y: { domain: rows.map((r) => r.label), label: null, tickSize: 0, padding: 0.3 },
    marks: [
      Plot.barX(rows, { x1: 0, x2: 'total', y: 'label', fill: 'none', stroke: 'var(--ink)' }), Plot.barX(rows, { x1: 0, x2: 'alone', y: 'label', fill: 'var(--act)' }), Plot.ruleX([0], { stroke: 'var(--ink)' }),
      Plot.text(rows, { x: 'total', y: 'label', text: (r: (typeof rows)[number]) => text(r.total), textAnchor: 'start', dx: 5, fill: 'var(--ink)', fontSize: 12.5 }),
    ],
  }));
}
const key_words = (key: string): string => ({ threshold_degC: 'where growth begins', growth: 'growth with heat', left_right: 'left against right' })[key] ?? key;

function cable_turns(told: ExplainFigure, system: System): Figure {
  const rows = rows_of(told), metres = (r: Row) => { const i = interval_in(r, 'km_per_turn', ''); return i ? { p05: i.p05 * 1000, p50: i.p50 * 1000, p95: i.p95 * 1000 } : { p05: NaN, p50: NaN, p95: NaN }; };
  const bands = rows.map((r) => ({ label: String(r.variant), value: { p05: converted(metres(r).p05, 'ride_m', system), p50: converted(metres(r).p50, 'ride_m', system), p95: converted(metres(r).p95, 'ride_m', system) }, colour: /gritty/.test(String(r.variant)) ? 'var(--look)' : 'var(--act)' }));
  return made(told, `Bands: 5 to 95 % of the ${told.cases ?? ''} likely cases; the firm line is their middle. Each tenfold takes the same length.`, {
    head: ['country', 'between two turns', 'turns a ride'], rows: rows.map((r) => [String(r.variant), interval_text(metres(r), 'ride_m', system), number_text(number_of(r.turns_per_ride_p50), 'plain', system, 2)]),
  }, (width) => rows_of_bands(width, bands, `${unit_of('ride_m', system)} for one turn`, true));
}

function housing_give(told: ExplainFigure, system: System): Figure {
  const rows = rows_of(told), force = (r: Row) => converted(number_of(r.lever_force_N), 'force_N', system);
  const panels: Panel[] = [{ title: 'Lever travel from bite', y_unit: unit_of('length_mm', system), series: series_of(rows, 'variant', force, 'lever_travel_mm', '', 'length_mm', system), zero: true }];
  return made(told, shaded(told), { head: ['housing', 'squeeze', 'lever travel'], rows: rows.map((r) => [word(r.variant ?? ''), `${number_text(number_of(r.lever_force_N), 'force_N', system)} ${unit_of('force_N', system)}`, band_text(interval_in(r, 'lever_travel_mm', ''), 'length_mm', system)]) },
    (width) => draw_panels(width, panels, `squeeze at the finger, ${unit_of('force_N', system)}`));
}

function hand_on_lever(told: ExplainFigure, system: System): Figure {
  const rows = rows_of(told), from_bar = (r: Row) => converted(number_of(r.lever_mm), 'length_mm', system);
  const panels: Panel[] = [{ title: 'What the braking fingers have', y_unit: unit_of('force_N', system), series: series_of(rows, 'variant', from_bar, 'hand_force_N', '', 'force_N', system), zero: true }];
  return made(told, shaded(told), { head: ['lever to bar', 'braking fingers'], rows: rows.map((r) => [`${number_text(number_of(r.lever_mm), 'length_mm', system, 2)} ${unit_of('length_mm', system)}`, band_text(interval_in(r, 'hand_force_N', ''), 'force_N', system)]) },
    (width) => draw_panels(width, panels, `lever to bar, ${unit_of('length_mm', system)}`));
}

function control_on_lever(told: ExplainFigure, system: System): Figure {
  const rows = rows_of(told).map((r): Row => ({ ...r, ...Object.fromEntries(['p05', 'p50', 'p95'].map((p) => [`percent_${p}`, 100 * number_of(r[`hand_share_${p}`])])) }));
  const from_bar = (r: Row) => converted(number_of(r.lever_mm), 'length_mm', system);
  const panels: Panel[] = [{ title: 'Part of the braking fingers that an ordinary stop takes', y_unit: '%', series: series_of(rows, 'variant', from_bar, 'percent', '', 'plain', system), zero: true }];
  return made(told, shaded(told), { head: ['lever to bar', 'part of the fingers, %'], rows: rows.map((r) => [`${number_text(number_of(r.lever_mm), 'length_mm', system, 2)} ${unit_of('length_mm', system)}`, band_text(interval_in(r, 'percent', ''), 'plain', system)]) },
    (width) => draw_panels(width, panels, `lever to bar, ${unit_of('length_mm', system)}`));
}

const both: [string, string][] = [['rotor', 'Front rotor'], ['fluid', 'Fluid']];
const drawers: Record<string, (told: ExplainFigure, system: System) => Figure> = {
  'heat compound': (t, s) => traces(t, s, [...both, ['caliper', 'Caliper']]),
  'heat heat_barrier': (t, s) => traces(t, s, [['pad_face', 'Pad face'], ['fluid', 'Fluid']]),
  'heat heat_resistance': (t, s) => traces(t, s, both),
  'heat rotor_size': rotor_size, 'heat holes': holes, 'heat old_fluid': old_fluid, 'heat repeated_stops': repeated_stops, 'heat style': down_a_hill, 'heat e_bike': down_a_hill,
  'life riders': riders, 'life readings': readings, 'life movers_ines': (t) => movers(t), 'life movers_tove': (t) => movers(t),
  'stop cable_turns': cable_turns, 'stop housing_give': housing_give, 'stop hand_on_lever': hand_on_lever, 'stop control_on_lever': control_on_lever,
};
//! The drawing of one of them; null for one that this page does not know.
export const explain_figure = (told: ExplainFigure, system: System): Figure | null => drawers[`${told.of} ${told.name}`]?.(told, system) ?? null;
