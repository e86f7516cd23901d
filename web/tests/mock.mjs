// SPDX-License-Identifier: Apache-2.0
// A stand-in for the service while there is none: answers that the real program gave, policy as strict.   Layer: web, tests
//   node tests/mock.mjs DIST FIXTURES [PORT]
import { createServer } from 'node:http';
import { existsSync, readFileSync } from 'node:fs';
import { extname, join, normalize } from 'node:path';
import { randomUUID } from 'node:crypto';

const [dist, fixtures, port = '0'] = process.argv.slice(2);
const today = '2026-09-20';
const load = (name) => JSON.parse(readFileSync(join(fixtures, `${name}.json`), 'utf8'));
const csv = (name) => {
  const [head, ...rows] = readFileSync(join(fixtures, 'series', `${name}.csv`), 'utf8').trim().split('\n').map((l) => l.split(','));
  const keep = Math.max(1, Math.ceil(rows.length / 1900));
  const thin = rows.filter((_, i) => i % keep === 0);
  const columns = Object.fromEntries(head.map((h, c) => [h, thin.map((r) => (r[c] === '' ? null : Number(r[c])))]));
  let down = 0;
  columns.descended_m = columns.altitude_m.map((h, i) => (i ? (down += Math.max(0, columns.altitude_m[i - 1] - h)) : 0));
  for (const w of ['front', 'rear']) {
    columns[`${w}_rotor_p05_degC`] = columns[`${w}_rotor_degC`].map((v) => 17 + (v - 17) * 0.68);
    columns[`${w}_rotor_p95_degC`] = columns[`${w}_rotor_degC`].map((v) => 17 + (v - 17) * 1.6);
  }
  return { columns, thinned_from: rows.length };
};
const brake = (d, t, l, r) => ({
  rotor: { diameter_mm: d, band_inner_mm: d - 28, thickness_mm: t, thickness_sd_mm: 0.01, least_thickness_mm: 1.65, measured: true },
  pads: { left: { friction_thickness_mm: l, sd_mm: 0.04, measured: true }, right: { friction_thickness_mm: r, sd_mm: 0.04, measured: true }, new_mm: 2.2, plate_thickness_mm: 1.8, plate_measured: true, least_friction_mm: 0.5 },
  lever: { reach_mm: 54, bite_mm: 34, full_mm: null },
});
const bikes = [];
function add(name, answer, ride, brakes) {
  bikes.push({ id: randomUUID(), name, kind: answer.bike.kind, answer, held: null, readings: [], brakes, rides: ride ? [{ id: randomUUID(), file: `${ride}.gpx`, start_time: answer.rides[0]?.start_time ?? null, day: '2025-05-10', distance_m: answer.rides[0]?.distance_m ?? null, duration_s: answer.rides[0]?.duration_s ?? null, descent_m: answer.rides[0]?.descent_m ?? null, described: false }] : [] });
}
if (process.env.MOCK_EMPTY !== '1') {
  const trail = load('trail');
  trail.life.front.pad.look_by = '2026-12-14';
  add('Ostrel trail bike', trail, 'pass-and-back', { front: brake(203, 1.84, 1.55, 1.31), rear: brake(180, 1.77, 1.9, 1.9) });
  add('Quarnfold cargo bike', load('cargo'), 'valley-deliveries', { front: brake(180, 1.95, 0.95, 0.95), rear: brake(180, 1.9, 1.3, 1.3) });
  add('Held back trail bike', load('held-back'), 'pass-and-back', { front: brake(203, 1.84, 0.3, 0.3), rear: brake(180, 1.77, 1.9, 1.9) });
  add('Town bike 14', load('city'), null, { front: { ...brake(160, 1.72, 1.4, 1.4), rotor: { ...brake(160, 1.72, 1, 1).rotor, least_thickness_mm: null } }, rear: { ...brake(160, 1.8, 1.5, 1.5), pads: { left: { friction_thickness_mm: null, sd_mm: null, measured: false }, right: { friction_thickness_mm: null, sd_mm: null, measured: false }, new_mm: null, plate_thickness_mm: 1.8, plate_measured: false, least_friction_mm: null } } });
}
const verdict = (b) => b.answer.verdict;
const look_by = (b) => (b.answer.verdict.do_not_ride ? null : [b.answer.life.front?.pad?.look_by, b.answer.life.rear?.pad?.look_by].filter(Boolean).sort()[0] ?? null);
const jobs = new Map();
const stored = new Map();
const refuse = (status, code, text, more = {}) => ({ status, body: { error: { code, text }, ...more } });

function api(method, path, query, body) {
  const [, what, id, part] = path.split('/');
  const b = bikes.find((x) => x.id === id);
  if (path === '/about') return { body: { version: '0.0.0', today, papers: { name: 'mock', bikes: bikes.length, rides: 3, readings: 4, schema: 1 }, cautions: ['An estimate does not replace an inspection. The maker’s instructions and local rules come first. If in doubt do not ride, and see a qualified mechanic.'], people: [], instruments: [] } };
  if (path === '/stand') return { body: { today, bikes: bikes.map((x) => ({ id: x.id, name: x.name, kind: x.kind, verdict: verdict(x), look_by: look_by(x), overdue: [{ code: 'bolts', text: 'Bolts' }], minutes: 6, rides: x.rides.length, last_ride: x.rides[0]?.day ?? null, held: x.held })) } };
  if (path === '/bikes' && method === 'POST') {
    add(body.name ?? 'New bike', load('city'), null, { front: brake(180, 1.8, 1.5, 1.5), rear: brake(160, 1.8, 1.5, 1.5) });
    return { status: 201, body: { id: bikes.at(-1).id } };
  }
  if (what === 'bikes' && !b) return refuse(404, 'not_found', 'There is no such bike in these papers.');
  if (what === 'bikes') {
    if (!part) return { body: { id: b.id, name: b.name, kind: b.kind, description: {}, parts: [], readings: b.readings, rides: b.rides, verdict: verdict(b), checks: [...verdict(b).reasons, ...(verdict(b).notes ?? [])].map((r) => ({ ...r, state: 'measure_better', done: false, do_not_ride: false })), held: b.held, answer_key: null } };
    if (part === 'answer') return { body: b.answer };
    if (part === 'brakes') return { body: b.brakes };
    if (part === 'check') return { body: { items: [{ code: 'front.function', text: 'Front brake: squeeze hard for ten seconds; the lever must stay where it is', overdue: true, last: null, why: 'never' }, { code: 'bolts', text: 'Bolts of calipers and rotors', overdue: false, last: '2026-09-01', why: 'routine' }], minutes: 6, verdict: verdict(b), cautions: [] } };
    if (part === 'hold') return (b.held = { by: body.by, why: body.why, since: '2026-09-20T10:00:00Z' }), { body: { verdict: verdict(b), held: b.held } };
    if (part === 'clear') return (b.held = null), { body: { verdict: verdict(b), held: null, cleared: 1 } };
    if (part === 'readings') {
      if (stored.has(body.entry_id)) return { status: 201, body: { ...stored.get(body.entry_id), already_there: true } };
      if (body.quantity === 'pad_thickness' && body.values[0] > 20 && !body.answers) return refuse(409, 'question', 'A question.', { questions: [{ code: 'inch', text: 'Is that 0.26 inch, or 2.6 mm?', choices: [{ value: 'mm', text: '2.6 mm' }, { value: 'no', text: 'as typed' }] }] });
      const r = { id: randomUUID(), at: '2026-09-20T10:00:00Z', day: today, place: body.place, quantity: body.quantity, values: body.values, instrument: null, person: body.by, note: '', unit: 'mm' };
      b.readings.unshift(r);
      stored.set(body.entry_id, { id: r.id, verdict: verdict(b), questions: [] });
      return { status: 201, body: stored.get(body.entry_id) };
    }
    if (part === 'rides') return { body: { id: b.rides[0]?.id ?? randomUUID(), already_there: false, summary: null, faults: [] } };
  }
  if (what === 'rides') {
    const owner = bikes.find((x) => x.id === query.get('bike'));
    const ride = owner?.rides.find((r) => r.id === id);
    if (!ride) return refuse(404, 'not_found', 'There is no such ride.');
    return { body: part === 'series' ? csv(ride.file.replace('.gpx', '')) : { ride: owner.answer.rides[0] } };
  }
  if (what === 'jobs' && method === 'POST') {
    const job = { id: randomUUID(), state: 'running', share: 0.3, text: 'Working through the likely cases', seen: 0, kind: body.kind };
    job.result = body.kind === 'weigh' ? (existsSync(join(fixtures, 'weigh.json')) ? load('weigh') : null) : body.kind === 'six' ? load('city') : (bikes.find((x) => x.id === body.bike)?.answer ?? null);
    jobs.set(job.id, job);
    return { status: 202, body: { id: job.id } };
  }
  if (what === 'jobs') {
    const job = jobs.get(id);
    if (++job.seen > 2) Object.assign(job, { state: 'done', share: 1 });
    return { body: job.state === 'done' ? job : { ...job, result: undefined } };
  }
  if (path === '/undo') return { body: { text: 'one reading' } };
  return refuse(404, 'not_found', `No ${path}.`);
}

const types = { '.html': 'text/html; charset=utf-8', '.js': 'text/javascript', '.css': 'text/css', '.woff2': 'font/woff2' };
const server = createServer((request, response) => {
  const url = new URL(request.url, 'http://localhost');
  const chunks = [];
  request.on('data', (c) => chunks.push(c));
  request.on('end', () => {
    response.setHeader('Content-Security-Policy', "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'");
    if (url.pathname.startsWith('/api/v1')) {
      let body = null;
      try { body = JSON.parse(Buffer.concat(chunks).toString() || 'null'); } catch { body = null; }
      const answer = request.method !== 'GET' && request.headers['x-brakewright-token'] !== 'mock' ? refuse(403, 'forbidden', 'No token.') : api(request.method, url.pathname.slice(7), url.searchParams, body);
      response.writeHead(answer.status ?? 200, { 'Content-Type': 'application/json' });
      return response.end(JSON.stringify(answer.body));
    }
    const path = normalize(url.pathname === '/' ? '/index.html' : url.pathname);
    const file = join(dist, path);
    if (!existsSync(file)) return response.writeHead(404).end();
    response.writeHead(200, { 'Content-Type': types[extname(file)] ?? 'application/octet-stream' });
    response.end(path === '/index.html' ? readFileSync(file, 'utf8').replace('__BRAKEWRIGHT_TOKEN__', 'mock') : readFileSync(file));
  });
});
server.listen(Number(port), '127.0.0.1', () => console.log(`http://127.0.0.1:${server.address().port}/`));
