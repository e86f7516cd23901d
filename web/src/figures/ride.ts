// SPDX-License-Identifier: Apache-2.0
// A ride: the slope, the brakes as blocks of heat beneath it, temperatures with bands below.              Layer: web, figures
import * as Plot from '@observablehq/plot';
import { ink_on_steel, steel_colour } from '../palette';
import { along, blocks, first_at, peak_of, type Axis, type Domain, type Trace } from '../trace';
import type { Ride, WheelName } from '../wire';
import { converted, duration_text, number_text, unit_of, type Interval, type Quantity, type System } from '../units';
import { ride_name } from '../words';
import { steel_note } from './heat_peaks';
import { el, interval_note, plot, sheet_of, type Figure } from './figure';

export const ride_left = 44;
export const ride_right = 14;
const slope_h = 130, block_h = 24, heat_h = 190;

const quantity_of: Record<Axis, Quantity> = { descended: 'height_m', distance: 'ride_m', time: 'plain' };
export const axis_words = (axis: Axis, system: System): string =>
  axis === 'time' ? 'minutes' : axis === 'distance' ? unit_of('ride_m', system) : `${unit_of('height_m', system)} descended`;
export const axis_number = (v: number, axis: Axis, system: System): number => (axis === 'time' ? v / 60 : converted(v, quantity_of[axis], system));

export function whole_domain(trace: Trace, axis: Axis): Domain {
  const x = along(trace, axis);
  const from = x[0] ?? 0, to = x[trace.n - 1] ?? 1;
  return [from, to > from ? to : from + 1];
}

//! Where each rotor was hottest, with the interval of that peak: what is known of the spread when the traces have no band.
export function peaks(trace: Trace, ride: Ride): { wheel: WheelName; index: number; value: Interval }[] {
  return (['front', 'rear'] as const).flatMap((wheel) => {
    const value = ride.wheels[wheel].rotor_peak_degC;
    let index = -1;
    trace[wheel].rotor_degC.forEach((v, i) => { if (Number.isFinite(v) && (index < 0 || v > (trace[wheel].rotor_degC[index] as number))) index = i; });
    return value && index >= 0 ? [{ wheel, index, value }] : [];
  });
}

export function ride_figure(trace: Trace, ride: Ride, system: System, axis: Axis, domain: Domain | null, assumptions: string[], sources: string[]): Figure {
  const view = domain ?? whole_domain(trace, axis);
  const top = (w: WheelName) => peak_of(trace[w].rotor_degC);
  const told = (w: WheelName) => `${w} rotor up to ${number_text(top(w), 'temperature_degC', system)} ${unit_of('temperature_degC', system)}`;
  const bands = trace.front.p05_degC !== null && trace.front.p95_degC !== null;
  const list = blocks(trace, 'front', axis);
  return {
    id: 'ride',
    title: ride_name(ride),
    says: `The ride along ${axis_words(axis, system)}: slope above, ${list.length} uses of the front brake as blocks beneath, temperatures below. ${told('front')}, ${told('rear')}.`,
    caption: `Blocks: where each brake worked, in the colour of its rotor at the hottest of that stretch, value printed where there is room. ${steel_note}`,
    interval: bands ? interval_note : 'Lines are the middle of the likely cases; the upright bars at the hottest places run from the 5 to the 95 % point of that peak.',
    assumptions, sources,
    table: {
      head: ['front brake, from', 'to', 'time', 'hottest', 'most power'],
      rows: list.slice(0, 40).map((b) => [
        `${axis_number(b.from, axis, system).toFixed(1)} ${axis_words(axis, system)}`, axis_number(b.to, axis, system).toFixed(1),
        duration_text(trace.t_s[b.start] as number), `${number_text(b.hottest_degC, 'temperature_degC', system)} ${unit_of('temperature_degC', system)}`, `${number_text(b.peak_W, 'power_W', system, 2)} W`,
      ]),
    },
    draw: (width) => draw(trace, bands ? [] : peaks(trace, ride), system, axis, view, width),
  };
}

function draw(trace: Trace, tops: ReturnType<typeof peaks>, system: System, axis: Axis, view: Domain, width: number): SVGSVGElement {
  const xs = along(trace, axis);
  const a = Math.max(0, first_at(xs, view[0]) - 1), b = Math.min(trace.n, first_at(xs, view[1]) + 2);
  const slice = (values: Float64Array, turn?: (v: number) => number) => {
    const s = values.subarray(a, b);
    return turn ? s.map(turn) : s;
  };
  const x = slice(xs, (v) => axis_number(v, axis, system));
  const domain: Domain = [axis_number(view[0], axis, system), axis_number(view[1], axis, system)];
  const length = { length: x.length };
  const degrees = (v: number) => converted(v, 'temperature_degC', system);
  const height = (v: number) => converted(v, 'height_m', system);
  const common = { width, marginLeft: ride_left, marginRight: ride_right, clip: true } as const;
  const ticks = Math.max(3, Math.round(width / 110));
  const hidden = { domain, axis: null } as const;

  const altitude = slice(trace.altitude_m, height);
  const has_altitude = altitude.some((v) => Number.isFinite(v));
  const slope = plot({
    ...common, height: slope_h, marginTop: 22, marginBottom: 8, x: hidden,
    y: { label: `height, ${unit_of('height_m', system)}`, labelArrow: 'none', ticks: 3, tickSize: 4, nice: true, ...(has_altitude ? {} : { domain: [0, 1] }) },
    marks: has_altitude ? [Plot.line(length, { x, y: altitude, stroke: 'var(--ink)', strokeWidth: 1.6 })] : [Plot.text(['no height known'], { frameAnchor: 'middle', fill: 'var(--soft)' })],
  });

  const scale = (v: number) => ride_left + ((v - view[0]) / (view[1] - view[0])) * (width - ride_left - ride_right);
  const rows: SVGElement[] = [];
  const join = ((view[1] - view[0]) / Math.max(1, width)) * 1.2;
  (['front', 'rear'] as const).forEach((wheel, i) => {
    const y = i * (block_h + 8);
    rows.push(el('text', { x: ride_left - 8, y: y + 16, 'text-anchor': 'end', fill: 'var(--soft)', 'font-size': 12 }, wheel));
    rows.push(el('path', { d: `M${ride_left} ${y + block_h + 1}H${width - ride_right}`, stroke: 'var(--line)', fill: 'none' }));
    for (const block of blocks(trace, wheel, axis, join)) {
      if (block.to < view[0] || block.from > view[1]) continue;
      const x1 = Math.max(ride_left, scale(block.from)), x2 = Math.min(width - ride_right, Math.max(scale(block.to), scale(block.from) + 1));
      const words = number_text(block.hottest_degC, 'temperature_degC', system);
      rows.push(el('rect', { x: x1, y, width: Math.max(0.8, x2 - x1), height: block_h, fill: steel_colour(block.hottest_degC), stroke: 'var(--ink)', 'stroke-width': 0.5 }));
      if (x2 - x1 > words.length * 7.5 + 6)
        rows.push(el('text', { x: (x1 + x2) / 2, y: y + 16.5, 'text-anchor': 'middle', fill: ink_on_steel(block.hottest_degC), 'font-size': 12, 'font-weight': 650 }, words));
    }
  });

  const series = [
    { name: 'front rotor', v: slice(trace.front.rotor_degC, degrees), stroke: 'var(--act)', dash: '', width: 2 },
    { name: 'rear rotor', v: slice(trace.rear.rotor_degC, degrees), stroke: 'var(--look)', dash: '6 3', width: 1.6 },
    { name: 'front fluid', v: slice(trace.front.fluid_degC, degrees), stroke: 'var(--ink)', dash: '1.5 3', width: 1.6 },
  ].filter((s) => s.v.some((v) => Number.isFinite(v)));
  const top = Math.max(degrees(100), ...tops.map((p) => degrees(p.value.p95)), ...[trace.front, trace.rear].flatMap((w) => [w.rotor_degC, ...(w.p95_degC ? [w.p95_degC] : [])].map((c) => degrees(peak_of(c)))).filter(Number.isFinite));
  // Names above the panel, each with a piece of its line: the lines themselves run too close for names beside them.
  const narrow = width < 560;
  let at_x = ride_left + 4;
  const bars = tops.map((p) => ({ x: axis_number(xs[p.index] as number, axis, system), low: degrees(p.value.p05), high: degrees(p.value.p95), stroke: p.wheel === 'front' ? 'var(--act)' : 'var(--look)', dx: p.wheel === 'front' ? -3 : 3 }));
  const names = series.map((s, i) => {
    const words = `${s.name}, up to ${Math.round(peak_of(s.v.filter(Number.isFinite)))}`;
    const g = el('g', narrow ? { transform: `translate(${ride_left + 4 - at_x},${20 * i})` } : {}, el('path', { d: `M${at_x} 9h22`, stroke: s.stroke, 'stroke-width': s.width, fill: 'none', ...(s.dash ? { 'stroke-dasharray': s.dash } : {}) }), el('text', { x: at_x + 28, y: 13, 'font-size': 12.5 }, words));
    at_x += 28 + words.length * 6.7 + 16;
    return g;
  });
  const band = (w: WheelName, fill: string): Plot.Markish[] => {
    const low = trace[w].p05_degC, high = trace[w].p95_degC;
    return low && high ? [Plot.areaY(length, { x, y1: slice(low, degrees), y2: slice(high, degrees), fill, fillOpacity: 0.16 })] : [];
  };
  const heat = plot({
    ...common, height: heat_h, marginTop: 24, marginBottom: 40,
    x: { domain, label: axis_words(axis, system), labelAnchor: 'right', labelArrow: 'none', ticks, tickSize: 4 },
    y: { domain: [0, top * 1.12], label: unit_of('temperature_degC', system), labelArrow: 'none', ticks: 5, tickSize: 4 },
    marks: [
      Plot.ruleY([0], { stroke: 'var(--ink)' }),
      ...band('rear', 'var(--look)'), ...band('front', 'var(--act)'),
      ...bars.map((bar) => Plot.ruleX([bar], { x: 'x', y1: 'low', y2: 'high', stroke: bar.stroke, strokeWidth: 7, strokeOpacity: 0.35, dx: bar.dx })),
      ...series.map((s) => Plot.line(length, { x, y: s.v, stroke: s.stroke, strokeWidth: s.width, strokeDasharray: s.dash || undefined })),
    ],
  });
  const blocks_y = slope_h + 6, names_y = blocks_y + 2 * (block_h + 8) + 10, heat_y = names_y + (narrow ? 20 * names.length : 20);
  heat.setAttribute('y', String(heat_y));
  return sheet_of(width, heat_y + heat_h, slope, el('g', { transform: `translate(0,${blocks_y})` }, ...rows), el('g', { transform: `translate(0,${names_y})` }, ...names), heat);
}
