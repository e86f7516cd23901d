// SPDX-License-Identifier: Apache-2.0
// Invented rides for the invented bikes, as a recorder would write them (GPX 1.1). Nothing in them is evidence. Pure.  Layer: web
export type Shape = { name: string; day: string; kind: 'pass' | 'town' };
type Piece = { metres: number; grade: number; turn_deg: number; most_mps: number };   // turn over the whole piece

//! The way, piece by piece: a climb and a hill with ten bends, or blocks of a town with a stop at each end.
export function pieces_of(kind: Shape['kind']): Piece[] {
  const out: Piece[] = [];
  if (kind === 'pass') {
    out.push({ metres: 2600, grade: 0.07, turn_deg: 40, most_mps: 4.2 });
    out.push({ metres: 300, grade: 0, turn_deg: 160, most_mps: 6 });
    for (let i = 0; i < 10; ++i) out.push({ metres: 230 + 35 * (i % 3), grade: -0.085, turn_deg: 0, most_mps: 12 }, { metres: 30, grade: -0.06, turn_deg: i % 2 ? 165 : -165, most_mps: 5.2 });
    out.push({ metres: 900, grade: -0.01, turn_deg: 30, most_mps: 8 });
  } else
    for (let i = 0; i < 26; ++i) out.push({ metres: 180 + 45 * (i % 4), grade: [0.012, -0.015, 0.004, -0.002][i % 4]!, turn_deg: 0, most_mps: 6.4 }, { metres: 12, grade: 0, turn_deg: i % 2 ? 90 : -90, most_mps: i % 2 ? 3.4 : 0.4 });
  return out;
}

export type Record = { t_s: number; latitude_deg: number; longitude_deg: number; altitude_m: number; speed_mps: number };

//! A record a second. Speeds: no faster than each piece allows, slowing at 1.6 m/s², quickening at 0.5 m/s².
export function records_of(kind: Shape['kind']): Record[] {
  const step = 0.5, slow = 1.6, quick = 0.5, degree_m = 111_195;   // mean degree on a sphere of 6371 km
  const most: number[] = [], grade: number[] = [], turn: number[] = [];
  for (const p of pieces_of(kind)) {
    const n = Math.max(1, Math.round(p.metres / step));
    for (let i = 0; i < n; ++i) { most.push(p.most_mps); grade.push(p.grade); turn.push(((p.turn_deg / n) * Math.PI) / 180); }
  }
  const v = [...most];
  v[0] = v[v.length - 1] = 0.4;
  for (let i = 1; i < v.length; ++i) v[i] = Math.min(v[i]!, Math.sqrt(v[i - 1]! ** 2 + 2 * quick * step));
  for (let i = v.length - 2; i >= 0; --i) v[i] = Math.min(v[i]!, Math.sqrt(v[i + 1]! ** 2 + 2 * slow * step));
  const out: Record[] = [];
  let t = 0, heading = 0.6, north = 0, east = 0, height = kind === 'pass' ? 640 : 210, next = 0;
  for (let i = 0; i < v.length; ++i) {
    while (next <= t) {
      const late = t - next;   // the place between two points of the way at the whole second
      const dv = i ? (v[i]! ** 2 - v[i - 1]! ** 2) / (2 * step) : 0;
      const now = v[i]! - dv * late, back = (late * (v[i]! + now)) / 2;
      const sway = 0.25 * Math.sin(next * 0.11) + 0.15 * Math.sin(next * 0.031);   // a barometer's slow error
      out.push({ t_s: next, latitude_deg: 46.2 + (north - back * Math.cos(heading)) / degree_m, longitude_deg: 11.3 + (east - back * Math.sin(heading)) / degree_m / Math.cos((46.2 * Math.PI) / 180), altitude_m: Math.round((height + sway) * 5) / 5, speed_mps: now });
      ++next;
    }
    t += (2 * step) / (v[i]! + (v[i + 1] ?? v[i]!));
    heading += turn[i]!;
    north += step * Math.cos(heading);
    east += step * Math.sin(heading);
    height += step * grade[i]!;
  }
  return out;
}

export function gpx_of(shape: Shape): string {
  const start = Date.parse(`${shape.day}T08:00:00Z`);
  const point = (r: Record) => `<trkpt lat="${r.latitude_deg.toFixed(7)}" lon="${r.longitude_deg.toFixed(7)}"><ele>${r.altitude_m.toFixed(1)}</ele><time>${new Date(start + r.t_s * 1000).toISOString()}</time></trkpt>`;
  return `<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="an invented ride" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>${shape.name}</name><trkseg>\n${records_of(shape.kind).map(point).join('\n')}\n</trkseg></trk></gpx>\n`;
}
