// SPDX-License-Identifier: Apache-2.0
// A ride's trace as numbers along an axis: metres descended, kilometres or time. Pure.                     Layer: web
import type { Series, WheelName } from './wire';

export type Axis = 'descended' | 'distance' | 'time';
export type WheelTrace = { power_W: Float64Array; rotor_degC: Float64Array; pad_degC: Float64Array; fluid_degC: Float64Array; p05_degC: Float64Array | null; p95_degC: Float64Array | null };
export type Trace = {
  n: number; t_s: Float64Array; distance_m: Float64Array; descended_m: Float64Array; altitude_m: Float64Array; speed_mps: Float64Array;
  front: WheelTrace; rear: WheelTrace; latitude_deg: Float64Array | null; longitude_deg: Float64Array | null; thinned_from: number;
};

export function trace_of(series: Series): Trace {
  const c = series.columns;
  const n = c.t_s?.length ?? 0;
  const column = (name: string): Float64Array => Float64Array.from({ length: n }, (_, i) => c[name]?.[i] ?? NaN);
  const maybe = (name: string): Float64Array | null => (c[name]?.some((v) => v !== null) ? column(name) : null);
  const altitude = column('altitude_m');
  let descended = maybe('descended_m');
  if (!descended) {
    descended = new Float64Array(n);
    for (let i = 1; i < n; ++i) {
      const fall = (altitude[i - 1] as number) - (altitude[i] as number);
      descended[i] = (descended[i - 1] as number) + (fall > 0 ? fall : 0);
    }
  }
  const wheel = (w: WheelName): WheelTrace => ({
    power_W: column(`${w}_brake_power_W`), rotor_degC: column(`${w}_rotor_degC`), pad_degC: column(`${w}_pad_face_degC`), fluid_degC: column(`${w}_fluid_degC`),
    p05_degC: maybe(`${w}_rotor_p05_degC`), p95_degC: maybe(`${w}_rotor_p95_degC`),
  });
  return {
    n, t_s: column('t_s'), distance_m: column('distance_m'), descended_m: descended, altitude_m: altitude, speed_mps: column('speed_mps'),
    front: wheel('front'), rear: wheel('rear'), latitude_deg: maybe('latitude_deg'), longitude_deg: maybe('longitude_deg'), thinned_from: series.thinned_from,
  };
}

//! Values along the axis, never falling.
export const along = (trace: Trace, axis: Axis): Float64Array => (axis === 'time' ? trace.t_s : axis === 'distance' ? trace.distance_m : trace.descended_m);

//! First index whose value is at least v; values never fall.
export function first_at(values: Float64Array, v: number): number {
  let low = 0, high = values.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((values[middle] as number) < v) low = middle + 1;
    else high = middle;
  }
  return low;
}

export const braking_from_W = 20;   // as the answer's own list of applications

export type Block = { from: number; to: number; start: number; end: number; hottest_degC: number; peak_W: number };

//! Where a wheel's brake worked. Stretches nearer than `join` along the axis are one block, so that each can be seen.
export function blocks(trace: Trace, wheel: WheelName, axis: Axis, join = 0): Block[] {
  const x = along(trace, axis), w = trace[wheel];
  const found: Block[] = [];
  for (let i = 0; i < trace.n; ++i) {
    if (!((w.power_W[i] as number) > braking_from_W)) continue;
    let end = i;
    let hottest = -Infinity, peak = 0;
    while (end < trace.n && (w.power_W[end] as number) > braking_from_W) {
      hottest = Math.max(hottest, w.rotor_degC[end] as number);
      peak = Math.max(peak, w.power_W[end] as number);
      ++end;
    }
    const one: Block = { from: x[i] as number, to: x[Math.min(end, trace.n - 1)] as number, start: i, end: Math.min(end, trace.n - 1), hottest_degC: hottest, peak_W: peak };
    const last = found[found.length - 1];
    if (last && one.from - last.to <= join) {
      last.to = one.to;
      last.end = one.end;
      last.hottest_degC = Math.max(last.hottest_degC, one.hottest_degC);
      last.peak_W = Math.max(last.peak_W, one.peak_W);
    } else found.push(one);
    i = end;
  }
  return found;
}

//! Share of the brakes' work that was done while the way led down; small shares ask for another axis.
export function downhill_share(trace: Trace): number {
  let all = 0, down = 0;
  for (let i = 1; i < trace.n; ++i) {
    const dt = (trace.t_s[i] as number) - (trace.t_s[i - 1] as number);
    const work = ((trace.front.power_W[i] || 0) + (trace.rear.power_W[i] || 0)) * dt;
    all += work;
    if ((trace.descended_m[i] as number) > (trace.descended_m[i - 1] as number)) down += work;
  }
  return all > 0 ? down / all : 1;
}

export const peak_of = (values: Float64Array): number => values.reduce((a, b) => (b > a ? b : a), -Infinity);

export type Domain = [number, number];
//! Zoom by `factor` about a point, kept within the whole; at least a 400th of it stays in view.
export function zoomed(domain: Domain, whole: Domain, factor: number, about: number): Domain {
  const span = whole[1] - whole[0];
  const width = Math.min(span, Math.max(span / 400, (domain[1] - domain[0]) * factor));
  const share = (about - domain[0]) / Math.max(1e-9, domain[1] - domain[0]);
  return moved([about - share * width, about + (1 - share) * width], whole, 0);
}
export function moved(domain: Domain, whole: Domain, by: number): Domain {
  const width = domain[1] - domain[0];
  const from = Math.min(Math.max(whole[0], domain[0] + by), whole[1] - width);
  return [from, from + width];
}
