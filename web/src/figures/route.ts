// SPDX-License-Identifier: Apache-2.0
// A sketch of the route, last and small: where on the way the brakes worked.                              Layer: web, figures
import { steel_colour } from '../palette';
import { blocks, type Trace } from '../trace';
import { number_text, unit_of, type System } from '../units';
import { el, sheet_of, type Figure } from './figure';

export function route_figure(trace: Trace, system: System): Figure | null {
  const lat = trace.latitude_deg, lon = trace.longitude_deg;
  if (!lat || !lon) return null;
  const known = [...lat.keys()].filter((i) => Number.isFinite(lat[i] as number) && Number.isFinite(lon[i] as number));
  const first = known[0], last = known[known.length - 1];
  if (first === undefined || last === undefined || known.length < 2) return null;
  return {
    id: 'route',
    title: 'The way',
    says: 'Sketch of the route with the stretches where the front brake worked.',
    caption: 'A sketch, north up. Thick: where the front brake worked, in the colour of its rotor.',
    interval: '', assumptions: ['North is up; both ways at one scale.'], sources: ['The recording’s own positions.'],
    table: { head: ['uses of the front brake'], rows: [[String(blocks(trace, 'front', 'time').length)]] },
    draw: (width) => {
      const size = Math.min(width, 420);
      const middle = ((lat[first] as number) + (lat[last] as number)) / 2;
      const k = Math.cos((middle * Math.PI) / 180);   // equirectangular: enough for a sketch of a ride
      const px = known.map((i) => (lon[i] as number) * k), py = known.map((i) => -(lat[i] as number));
      const [x0, x1, y0, y1] = [Math.min(...px), Math.max(...px), Math.min(...py), Math.max(...py)];
      const scale = (size - 40) / Math.max(x1 - x0, y1 - y0, 1e-6);
      const X = (i: number) => 20 + ((lon[i] as number) * k - x0) * scale, Y = (i: number) => 20 + (-(lat[i] as number) - y0) * scale;
      const path = (ids: number[]) => ids.map((i, j) => `${j ? 'L' : 'M'}${X(i).toFixed(1)} ${Y(i).toFixed(1)}`).join('');
      const height = 52 + (y1 - y0) * scale;
      const out: SVGElement[] = [el('path', { d: path(known), stroke: 'var(--soft)', fill: 'none', 'stroke-width': 1.2 })];
      for (const b of blocks(trace, 'front', 'time')) {
        const ids = known.filter((i) => i >= b.start && i <= b.end);
        if (ids.length < 2) continue;
        out.push(el('path', { d: path(ids), stroke: 'var(--ink)', 'stroke-width': 7, fill: 'none', 'stroke-linecap': 'round' }));
        out.push(el('path', { d: path(ids), stroke: steel_colour(b.hottest_degC), 'stroke-width': 5.5, fill: 'none', 'stroke-linecap': 'round' }));
      }
      out.push(el('text', { x: X(first), y: Y(first) + 16, 'text-anchor': X(first) < 40 ? 'start' : X(first) > size - 40 ? 'end' : 'middle', 'font-size': 12.5, stroke: 'var(--paper)', 'stroke-width': 3, 'paint-order': 'stroke' }, 'start'));
      const metre = scale / 111_195;   // mean degree of latitude on a sphere of 6371 km
      const short = system === 'metric' ? 1 : 0.3048, long = system === 'metric' ? 1000 : 1609.344;
      const round = (unit_m: number) => unit_m * Math.pow(10, Math.floor(Math.log10(size / 3 / metre / unit_m)));
      const bar_m = round(long) >= long ? round(long) : round(short);
      out.push(el('path', { d: `M20 ${(height + 8).toFixed(1)}h${(bar_m * metre).toFixed(1)}`, stroke: 'var(--ink)', fill: 'none' }));
      out.push(el('text', { x: 20, y: height + 24, fill: 'var(--soft)', 'font-size': 12 }, bar_m >= long ? `${number_text(bar_m, 'ride_m', system, 2)} ${unit_of('ride_m', system)}` : `${number_text(bar_m, 'room_m', system, 2)} ${unit_of('room_m', system)}`));
      return sheet_of(size, height + 32, ...out);
    },
  };
}
