// SPDX-License-Identifier: Apache-2.0
// The stranger's walk through the pages, desk and phone, against the real program.                         Layer: web, tests
//   node tests/walk.mjs [DIR]     DIR: a picture of each step there; any console message, foreign request, serious find of axe or missing step fails it
import assert from 'node:assert/strict';
import { mkdirSync, readFileSync } from 'node:fs';
import { chromium } from 'playwright-core';
import { asked, browser_path, demo_ride, open_service, serious } from './service.mjs';

const shots = process.argv[2];
let shot = 0;
if (shots) mkdirSync(shots, { recursive: true });
const service = await open_service();
const browser = await chromium.launch({ executablePath: browser_path, args: ['--no-sandbox'] });
const troubles = [];
const started = Date.now();
let offline = false, looks_for_nothing = false;
let where = 'nothing yet';   // the last thing that went well: a step that stands still says after what
const still_s = 240;
const no_wifi = 'net::ERR_INTERNET_DISCONNECTED';   // the browser's own line while the walk has pulled the Wi-Fi: the one console message that is left out
const no_such = 'status of 404';   // and this one, while the walk goes to a bike and a ride that are not there

// A page that stands still has no time limit of its own everywhere: after a while this ends the walk and says where it was.
let watch = null;
function came_on(page) {
  clearTimeout(watch);
  watch = setTimeout(async () => {
    console.error(`stood still for ${still_s} s after “${where}”, at ${page.url()}; the program ${service.ended() ? 'had ended' : 'was running'}: ${service.said()}`);
    if (shots) await Promise.race([page.screenshot({ path: `${shots}/stood-still.png` }), new Promise((go) => setTimeout(go, 5000))]).catch(() => undefined);
    await Promise.race([service.end(), new Promise((go) => setTimeout(go, 10_000))]).catch(() => undefined);
    process.exit(1);
  }, still_s * 1000);
}

async function visitor(name, viewport, more = {}) {
  const context = await browser.newContext({ viewport, acceptDownloads: true, ...more });
  const page = await context.newPage();
  page.setDefaultTimeout(60_000);
  page.on('console', (m) => { if (!(offline && m.text().includes(no_wifi)) && !(looks_for_nothing && m.text().includes(no_such))) troubles.push(`${name}: console ${m.type()}: ${m.text()}`); });
  page.on('pageerror', (e) => troubles.push(`${name}: ${e.message}`));
  page.on('request', (r) => { if (!/^(data|blob):/.test(r.url()) && !r.url().startsWith(service.url)) troubles.push(`${name}: a request left: ${r.url()}`); });
  const go = async (path) => { await page.goto('about:blank'); await page.goto(`${service.url}${path}`); await page.locator('main h1').first().waitFor(); };
  const look = async (what) => {
    for (const find of await serious(page)) troubles.push(`${name}, ${what}: ${find}`);
    const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    if (over > 0) troubles.push(`${name}, ${what}: ${over} px wider than the screen`);
    // Every figure that stands on a page is one that can be saved, and its assumptions and sources go with it.
    const bare = await page.evaluate(() => [...document.querySelectorAll('figure[data-figure]')].filter((f) => {
      let beside = f.nextElementSibling;
      while (beside && !beside.classList.contains('beside')) beside = beside.nextElementSibling;
      const text = beside?.textContent ?? '';
      return !(text.includes('Assumed: ') && text.includes('Source: ') && text.includes('SVG') && text.includes('PNG')) || !f.querySelector('figcaption')?.textContent?.trim();
    }).map((f) => f.dataset.figure));
    if (bare.length) troubles.push(`${name}, ${what}: figures without assumptions, sources, caption or a way to save them: ${bare.join(', ')}`);
    if (shots) await page.screenshot({ path: `${shots}/${String(++shot).padStart(2, '0')}-${name}.png`, fullPage: true });
    console.log(`${((Date.now() - started) / 1000).toFixed(1).padStart(6)} s  ${name}: ${what}`);
    where = `${name}: ${what}`;
    came_on(page);
  };
  return { context, page, go, look };
}
const api = (page, path) => asked(page, path);
const type_number = async (page, text, button = 'Next') => { await page.locator('.big-number').fill(text); await page.getByRole('button', { name: button, exact: true }).click(); };

// Five stops of one brake from 8 m/s at 2.5 m/s2 and one at 0.5, a second a record with a speed of its own.
function trial_gpx(hour) {
  let rows = '', north = 0, at = 0;
  for (let n = 0; n < 6; n++)
    for (let t = 0; t < 45; t++, at++) {
      const v = t < 7 ? (8 * t) / 7 : t < 20 ? 8 : Math.max(0, 8 - (n === 5 ? 0.5 : 2.5) * (t - 20.125 + 0.13 * n));
      rows += `<trkpt lat="${(north / 111000).toFixed(8)}" lon="8"><ele>100</ele><time>${new Date(Date.UTC(2026, 4, 1, hour, 0, at)).toISOString()}</time><extensions><m:speed>${v.toFixed(2)}</m:speed></extensions></trkpt>\n`;
      north += v;
    }
  return `<?xml version="1.0"?>\n<gpx version="1.1" creator="made" xmlns="http://www.topografix.com/GPX/1/1" xmlns:m="urn:made"><trk><trkseg>\n${rows}</trkseg></trk></gpx>\n`;
}

async function desk() {
  const { context, page, go, look } = await visitor('desk', { width: 1280, height: 900 });
  await go('#/');
  await page.getByText('No bike yet').waitFor();
  await look('the empty stand teaches');
  await page.getByRole('button', { name: 'The invented bikes' }).click();
  await page.locator('.stand-list li').nth(4).waitFor();
  assert.equal(await page.locator('.stand-list li').first().locator('.verdict').innerText(), 'held back: do not ride');
  await look('the stand, held back first');
  const bikes = (await api(page, '/stand')).bikes;
  const trail = bikes.find((b) => !b.verdict.do_not_ride && b.kind === 'trail'), held = bikes.find((b) => b.verdict.do_not_ride);

  await page.getByRole('link', { name: trail.name, exact: true }).click();
  await page.getByRole('heading', { name: 'Front brake, as measured' }).waitFor();
  await page.locator('#ride-file').setInputFiles(demo_ride);
  await page.getByText('pass-and-back.gpx is in.').waitFor();
  await page.locator('[data-figure="riding-left"] svg').waitFor();
  await page.locator('[data-figure="hottest"] svg').waitFor();
  await look('a bike with a ride: stop, heat, life, condition');
  for (const kind of ['SVG', 'PNG']) {
    const [file] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: `Save Room to stop from 25 km/h as ${kind}` }).click()]);
    const bytes = readFileSync(await file.path());
    if (kind === 'PNG') assert.equal(bytes.subarray(1, 4).toString(), 'PNG');
    else for (const words of ['Judge by the far end', 'Interval: Bands run', 'Assumed:', 'Sources:', 'does not replace an inspection']) assert.ok(bytes.includes(words), `the saved figure lacks “${words}”`);
  }
  await look('a figure saved as SVG and PNG');

  await page.getByRole('link', { name: 'This ride, place by place' }).click();
  await page.locator('[data-figure="ride"] svg').first().waitFor();
  await look('a ride');
  await page.getByRole('button', { name: 'What did it take off pads and rotors?' }).click();
  await page.locator('#price').fill('24');
  await page.locator('#price').press('Tab');
  await page.getByText(/µm .*off the front/).first().waitFor();
  await page.getByText('of the price of a set').waitFor();
  await look('what that ride did: micrometres, money, what happened on it');
  await page.getByRole('button', { name: 'closer' }).click();
  await page.getByLabel('time').check();
  await page.locator('#place').focus();
  await page.keyboard.press('ArrowRight');
  await look('a ride, closer, along time');

  await go(`#/bike/${trail.id}/reading`);
  await page.getByRole('button', { name: 'front pads' }).click();
  await type_number(page, '2,6,1');
  await page.getByText('two decimal marks').waitFor();
  await type_number(page, '2,6');
  await type_number(page, '2.5');
  await page.getByRole('button', { name: 'Yes, over both' }).click();
  await page.locator('#by').fill('Ada');
  await page.getByRole('button', { name: 'Into the papers' }).click();
  await answered(page);
  await look('a pad read as 2,6 over the plate, verdict at once');

  // Front and rear changed over: this bike's front rotor was 1.84 mm and its rear one 1.77.
  for (const [what, value, other] of [['front rotor', '1,77', 'rear'], ['rear rotor', '1,84', 'front']]) {
    const had = (await api(page, `/bikes/${trail.id}`)).readings.length;
    await go(`#/bike/${trail.id}/reading`);
    await page.getByRole('button', { name: what }).click();
    await type_number(page, value);
    await page.getByRole('button', { name: 'Points' }).click();
    await page.locator('.asked').waitFor();
    await page.getByRole('button', { name: `it is the ${other} wheel`, exact: true }).waitFor();
    assert.equal((await api(page, `/bikes/${trail.id}`)).readings.length, had, 'nothing is stored until it is answered');
    await look(`front and rear changed over: ${(await page.locator('.asked .sentence').innerText()).slice(0, 90)}`);
  }

  for (const [what, value] of [['front pads', '26'], ['front pads', '0.4'], ['rear rotor', '1.45']]) {
    await go(`#/bike/${trail.id}/reading`);
    await page.getByRole('button', { name: what }).click();
    await type_number(page, value);
    if (what.endsWith('pads')) { await page.getByRole('button', { name: 'Not this one' }).click(); await page.getByRole('button', { name: 'No', exact: false }).last().click(); }
    else await page.getByRole('button', { name: 'Points' }).click();
    await page.locator('.asked, .trouble, .verdict').first().waitFor();
    await look(`an odd reading: ${what} ${value}: ${(await page.locator('.asked .sentence, .trouble p, .verdict').first().innerText()).slice(0, 90)}`);
  }

  await go(`#/bike/${trail.id}/reading`);
  await page.getByRole('button', { name: 'front run-out' }).click();
  for (let i = 0; i < 12; ++i) {
    await page.locator('#dial').fill((0.1 + 0.06 * Math.sin((i / 6) * Math.PI)).toFixed(2).replace('.', ','));
    await page.getByRole('button', { name: 'Next place' }).click();
  }
  await page.getByRole('button', { name: 'All 12 read: on' }).click();
  await answered(page);
  await page.locator('[data-figure="front-turn"] svg').waitFor();
  await page.getByText(/^Seat tilt, once a turn: /).waitFor();
  await look('dial readings around the rotor: what the turn is made of');
  await go(`#/bike/${trail.id}/run-out`);
  await page.locator('[data-figure="front-turn"] svg').waitFor();
  await look('how the rotors run');

  await go(`#/bike/${trail.id}/rows`);
  const rows = Array.from({ length: 60 }, (_, i) => `2026-0${1 + Math.floor(i / 20)}-${String(1 + (i % 20)).padStart(2, '0')};rear;lever_bite;;${(32 - i * 0.01).toFixed(2).replace('.', ',')};`);
  await page.locator('#rows').fill(['date;place;what;side;value;with_plate', ...rows].join('\n'));
  await page.getByRole('button', { name: 'Into the papers' }).click();
  await page.locator('[role=status] .sentence, .trouble').first().waitFor();
  await look(`60 pasted rows: ${await page.locator('[role=status] .sentence, .trouble').first().innerText()}`);
  assert.match(await page.locator('[role=status] .sentence').innerText(), /^60 readings are in/);

  await go(`#/bike/${trail.id}/check`);
  await page.locator('.ticks > li').first().waitFor();
  await page.getByLabel('nothing found').first().check();
  await page.getByLabel('a fault').nth(1).check();
  await page.getByLabel('What was found').fill('loose');
  await page.getByRole('button', { name: /^Write down 2 of/ }).click();
  await page.getByText('In the papers.').waitFor();
  await look('the check before a ride, one fault');

  const free = bikes.find((b) => b.kind === 'gravel');
  await go(`#/bike/${free.id}/stop`);
  await page.locator('[data-figure="lever-in-hand"] svg').waitFor();
  await page.locator('#grade').fill('55');
  await page.getByRole('button', { name: 'Work it out' }).click();
  await page.getByText('expected 0 to 40').waitFor();
  await page.locator('#grade').fill('15');
  await page.locator('#surface').selectOption('wet');
  await page.getByRole('button', { name: 'Work it out' }).click();
  await page.getByText('15 % downhill, wet').first().waitFor();
  await look('will it stop: 15 % downhill in the wet, the chain, the levers');
  for (const metres of ['8,2', '8.6', '7,9']) {
    await page.locator('#proof-speed').fill('20');
    if (metres === '8,2') {   // the others without a time
      await page.getByRole('button', { name: 'Timer: press as the lever moves' }).click();
      await page.waitForTimeout(2700);
      await page.getByRole('button', { name: 'press as the bike stands' }).click();
    }
    await page.locator('#proof-distance').fill(metres);
    await page.locator('#proof-force').fill('60');
    await page.locator('#proof-place').fill('20');
    await page.getByRole('button', { name: 'Count this stop' }).click();
    await page.getByText(`${['8,2', '8.6', '7,9'].indexOf(metres) + 1} of five stops`).waitFor();
    await page.getByRole('button', { name: 'Count this stop', disabled: false }).waitFor();
  }
  await page.getByText('3 of five stops').waitFor();
  await look('three proof stops counted and timed');
  for (const choice of ['I will brake again', 'the place is another on purpose']) {   // the scale at another place: asked, and nothing kept by the question
    await page.locator('#proof-distance').fill('8');
    await page.locator('#proof-force').fill('60');
    await page.locator('#proof-place').fill('45');
    await page.getByRole('button', { name: 'Count this stop' }).click();
    await page.locator('.asked').getByText('another place has another leverage').waitFor();
    if (choice.startsWith('I will')) {   // what is typed after the question is another stop: it is not answered with this one
      await page.locator('#proof-place').fill('20');
      await page.locator('.asked').waitFor({ state: 'detached' });
      await page.getByRole('button', { name: 'Count this stop' }).waitFor();
      await page.locator('#proof-place').fill('45');
      await page.locator('.asked').waitFor();
    }
    if (choice.startsWith('I will')) await look('a scale pulled elsewhere on the lever: asked first');
    await page.locator('.asked').getByRole('button', { name: choice }).click();
    if (choice.startsWith('I will')) await page.getByText('nothing of this was stored').waitFor();
    else await page.getByText('4 of five stops').waitFor();
  }
  await page.getByRole('button', { name: 'Take back the last change' }).click();
  await page.getByText('3 of five stops').waitFor();
  await page.reload();
  await page.getByText('3 of five stops').waitFor();
  assert.equal((await api(page, `/bikes/${free.id}/proof`)).stops.length, 3, 'the papers hold each stop once');
  assert.deepEqual((await api(page, `/bikes/${free.id}/proof`)).stops.map((s) => [s.lever_place_mm, s.way]), [[20, 'taped'], [20, 'taped'], [20, 'taped']]);
  assert.equal(await page.evaluate((id) => localStorage.getItem(`brakewright.proof.${id}`), free.id), null, 'none lies in the browser');
  await page.locator('[data-figure="lever-in-hand"] svg').waitFor();
  await look('the proof stops are still there after a reload');
  // A trial that was recorded: five stops, and one too gentle to stand.
  const put_trial = async (bike, hour) => {   // the same bytes are the same ride, whose bike they are told of first
    const put = await asked(page, `/bikes/${bike}/rides?name=trial.gpx&by=Ada`, { method: 'POST', body: trial_gpx(hour) });
    assert.ok(put.id && !put.already_there && put.refused.length === 0, `the ride is in: ${JSON.stringify(put)}`);
  };
  const look_for_stops = async () => {
    await page.locator('#recorded-ride').selectOption({ label: (await page.locator('#recorded-ride option').allInnerTexts()).find((t) => t.startsWith('trial')) });
    await page.getByRole('button', { name: 'Look for stops' }).click();
    await page.getByText('cannot stand as a proof stop. Too gentle').waitFor();
  };
  await put_trial(free.id, 10);
  await go(`#/bike/${free.id}/stop`);
  await page.locator('[data-figure="lever-in-hand"] svg').waitFor();   // that job is done
  await look_for_stops();
  assert.equal(await page.locator('[aria-label="Stops of this ride"] > li').count(), 6);
  for (const n of [0, 1, 3]) {
    await page.locator('[aria-label="Stops of this ride"] > li').nth(n).getByRole('checkbox').check();
    if (n === 0) await page.locator('#recorded-force-1').fill('60');   // read at this stop alone
  }
  await page.getByRole('button', { name: 'Count the ticked stops' }).click();
  await page.getByText('Which brake was pulled alone?').waitFor();
  await page.locator('input[name="recorded-wheel"]').nth(1).check();
  await page.getByRole('button', { name: 'Count the ticked stops' }).click();
  await page.getByText('On which surface?').waitFor();
  await page.locator('#recorded-surface').selectOption('dry');
  await page.locator('#recorded-place').fill('20');
  await look('stops of a recorded ride: which count, by which brake');
  // The scale elsewhere than at the front's stops: asked, and another choice takes the question away.
  await page.locator('input[name="recorded-wheel"]').nth(0).check();
  await page.locator('#recorded-place').fill('45');
  await page.getByRole('button', { name: 'Count the ticked stops' }).click();
  await page.locator('.asked').getByText('another place has another leverage').waitFor();
  await page.locator('input[name="recorded-wheel"]').nth(1).check();
  await page.locator('.asked').waitFor({ state: 'detached' });
  await page.locator('#recorded-place').fill('20');
  await page.getByRole('button', { name: 'Count the ticked stops' }).click();
  await page.getByText('3 stops are in the papers.').waitFor();
  const recorded = (await api(page, `/bikes/${free.id}/proof`)).stops.filter((s) => s.way === 'recorded');
  assert.deepEqual(recorded.map((s) => [s.wheel, s.surface, s.date, s.lever_force_N]), [['rear', 'dry', '2026-05-01', 60], ['rear', 'dry', '2026-05-01', null], ['rear', 'dry', '2026-05-01', null]]);
  await page.getByText('In the papers as a stop of the rear brake').first().waitFor();
  await page.locator('#weight-back').fill('20');
  await page.getByRole('button', { name: 'Work it out' }).click();
  await page.getByText('With the rider’s body 200').waitFor();
  await look('recorded stops are in the papers; the stop with the rider’s body back');
  // Stops that this browser kept before the papers did: five, and then five of a brake that sank.
  const city = bikes.find((b) => b.kind === 'city');
  await page.evaluate(([id, all]) => localStorage.setItem(`brakewright.proof.${id}`, all), [city.id, JSON.stringify([6.3, 6.4, 6.2, 6.35, 6.25, 10.3, 10.4, 10.2, 10.35, 10.25].map((distance_m, i) => (
    { date: i < 5 ? '2026-05-11' : '2026-05-12', wheel: 'front', from_mps: 6, distance_m, time_s: null, lever_force_N: 60, surface: 'dry', grade: 0 })))]);
  await put_trial(city.id, 12);
  await go(`#/bike/${city.id}/stop`);
  await page.getByText('The front brake has lost bite.').first().waitFor();
  await look_for_stops();
  const no_distance = async () => assert.doesNotMatch(await page.locator('[aria-label="Stops of this ride"]').innerText(), / over .*known to/, 'no distance of a recorded stop beside "do not ride"');
  await no_distance();
  await look('old stops of this browser count before they are in the papers');
  await page.getByRole('button', { name: 'Put them into the papers' }).click();
  await page.getByText('This bike is held back by its proof stops').waitFor();
  await page.getByText('lie in this browser only').waitFor({ state: 'detached' });
  if (await page.locator('[aria-label="Stops of this ride"]').count()) await no_distance();
  assert.equal(await page.locator('[data-figure], .stop-now').first().getAttribute('class'), 'stop-now', 'the hold stands first');
  assert.equal(await page.locator('[data-figure]').count(), 0, 'no figure beside the hold');
  assert.equal((await page.locator('main').innerText()).match(/The front brake has lost bite/g).length, 1);
  assert.equal((await api(page, `/bikes/${city.id}/proof`)).stops.length, 10);
  assert.equal(await page.evaluate((id) => localStorage.getItem(`brakewright.proof.${id}`), city.id), '[]');
  await look('put into the papers once: the hold first, no distance');
  await page.getByRole('link', { name: 'A named person says so here', exact: false }).click();
  await page.locator('#why').fill('the scale slipped');
  await page.getByRole('button', { name: 'The proof stops that hold it back were wrong' }).click();
  await page.getByText('Those proof stops count for nothing now').waitFor();
  assert.equal((await api(page, `/bikes/${city.id}`)).verdict.do_not_ride, false);
  await look('cleared by name');
  await go(`#/bike/${free.id}/life`);
  await page.locator('[data-figure="left-in-mm"] svg').waitFor();
  await look('how much riding is left: millimetres, what moves it, the next reading');
  await go(`#/bike/${free.id}/hold`);
  await page.locator('#why').fill('the lever sinks');
  await page.getByRole('button', { name: 'Hold this bike back' }).click();
  await page.getByText('Held back. It stays so').waitFor();
  await look('held back');
  await go(`#/bike/${free.id}`);
  await page.getByText('No distance is given').waitFor();
  assert.equal(await page.locator('[data-figure^="room"], [data-figure="riding-left"]').count(), 0);
  await look('held back: no distance, no life');
  await go(`#/bike/${free.id}/hold`);
  await page.locator('#why').fill('bled');
  await page.getByRole('button', { name: /^Clear, held since/ }).click();
  await page.getByText('The hold has ended').waitFor();
  await look('cleared');
  await go(`#/bike/${held.id}`);
  await page.getByText('Do not ride.', { exact: true }).first().waitFor();
  await look('a bike whose reading holds it back');

  await go(`#/bike/${free.id}/try`);
  await page.locator('#mass').fill('180');
  await page.locator('#grade').fill('15');
  await page.locator('#surface').selectOption('wet');
  await page.getByRole('button', { name: 'Try it' }).click();
  await page.getByText('Tried, not kept').waitFor();
  await look('180 kg, wet, 15 % downhill');
  await page.locator('#wind').fill('18');
  await page.locator('#wind-from').selectOption('W');
  await page.getByRole('button', { name: 'Try it' }).click();
  await page.getByText(/^The wind counts on/).waitFor();
  await look('a wind from the west');

  // The Wi-Fi is pulled during an entry: the page keeps it and sends it once.
  await go(`#/bike/${free.id}/reading`);
  await page.getByRole('button', { name: 'front bite point' }).click();
  const before = (await api(page, `/bikes/${free.id}`)).readings.length;
  offline = true;
  await context.setOffline(true);
  await type_number(page, '27');
  await page.getByText('kept in this browser').waitFor();
  assert.match(await page.locator('.waits').first().innerText(), /1 reading waits/);
  await look('Wi-Fi pulled: the entry waits');
  await context.setOffline(false);
  await page.locator('.waits').waitFor({ state: 'detached' });
  offline = false;
  assert.equal((await api(page, `/bikes/${free.id}`)).readings.length, before + 1);
  await page.reload();
  await page.locator('main h1').waitFor();
  await look('back again, everything there');
  assert.equal((await api(page, '/stand')).bikes.length, 5);
  // A proof stop that was counted without connection meets a question when it goes out: it waits for the answer, and is kept once.
  const stops_before = (await api(page, `/bikes/${free.id}/proof`)).stops.length;
  await go(`#/bike/${free.id}/stop`);
  await page.locator('[data-figure="lever-in-hand"] svg').waitFor();
  for (const [field, value] of [['speed', '20'], ['distance', '8.1'], ['force', '60'], ['place', '45']]) await page.locator(`#proof-${field}`).fill(value);
  offline = true;
  await context.setOffline(true);
  await page.getByRole('button', { name: 'Count this stop' }).click();
  await page.getByText('The stop is kept in this browser').waitFor();
  await context.setOffline(false);
  await page.locator('.waits').getByText('something is asked first').waitFor();
  offline = false;
  assert.equal((await api(page, `/bikes/${free.id}/proof`)).stops.length, stops_before, 'nothing is kept by the question');
  await look('a proof stop that waited is asked about where it waits');
  await page.locator('header .asked').getByRole('button', { name: 'the place is another on purpose' }).click();
  await page.locator('.waits').first().waitFor({ state: 'detached' });
  assert.equal((await api(page, `/bikes/${free.id}/proof`)).stops.length, stops_before + 1);
  looks_for_nothing = true;
  for (const path of ['', '/stop', '/check', '/hold', '/life', '/reading', '/run-out', '/try', `/ride/${'0'.repeat(64)}`]) {
    await go(`#/bike/11111111-2222-4333-8444-555555555555${path}`);
    await page.getByRole('heading', { name: 'Not in the papers' }).waitFor();
  }
  await look('a bookmark of what was taken back: it is not there');
  await go(`#/bike/${free.id}`);
  await page.getByRole('heading', { name: free.name }).waitFor();
  looks_for_nothing = false;

  await go('#/explain');
  await page.locator('[data-figure="explain-heat-compound"] svg.drawing').waitFor({ timeout: 180_000 });
  assert.equal(await page.locator('[data-figure^="explain-"] svg.drawing').count(), 17, 'every figure whose data the commands write');
  const [explained] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Save Old fluid as SVG' }).click()]);
  const drawn = readFileSync(await explained.path(), 'utf8');
  for (const words of ['Interval: Shaded', 'Holds: DOT 4 fluid of two years', 'Assumed: Sintered pads', 'Sources: Least dry and wet boiling points', 'does not replace an inspection']) assert.ok(drawn.includes(words), `the saved figure lacks “${words}”`);
  await look('what explains it: seventeen figures, one saved');

  await go('#/weigh');
  await page.locator('#a').selectOption(free.id);
  await page.locator('#front-rotor').fill('203');
  await page.getByRole('button', { name: 'Weigh up', exact: true }).click();
  await page.locator('main h2, .trouble').first().waitFor();
  await look(`weigh up: ${(await page.locator('main .sentence, .trouble').first().innerText()).slice(0, 100)}`);
  await page.locator('[data-figure="weigh-up"] svg').waitFor({ timeout: 10_000 });
  await context.close();
}

// What a reading ends in: a verdict, or a question first, which is answered with its first choice.
async function answered(page) {
  for (let i = 0; i < 4; ++i) {
    await page.locator('.asked, .verdict, .trouble').first().waitFor();
    if (await page.locator('.asked').count()) await page.locator('.asked .choice').first().click();
    else break;
    await page.waitForTimeout(300);
  }
  await page.getByText('In the papers', { exact: false }).first().waitFor();
}

async function phone() {
  const { context, page, go, look } = await visitor('phone', { width: 360, height: 740 }, { hasTouch: true, isMobile: true, colorScheme: 'dark', reducedMotion: 'reduce' });
  await context.addInitScript(() => { delete Crypto.prototype.randomUUID; });   // as where the pages come over plain HTTP from another machine
  await go('#/');
  await page.locator('.stand-list li').first().waitFor();
  await look('the stand');
  const bike = (await api(page, '/stand')).bikes.find((b) => b.kind === 'cargo');
  await go(`#/bike/${bike.id}`);
  await page.getByRole('heading', { name: 'Will it stop?' }).waitFor();
  await look('a bike');
  await go(`#/bike/${bike.id}/reading`);
  await page.getByRole('button', { name: 'rear rotor' }).waitFor();
  for (const box of await page.locator('.ledger button').evaluateAll((all) => all.map((b) => b.getBoundingClientRect()).map((r) => [r.width, r.height]))) assert.ok(box[0] >= 48 && box[1] >= 48, `a target of ${box}`);
  await look('a reading: what');
  await page.getByRole('button', { name: 'rear rotor' }).tap();
  await page.locator('.big-number').fill('1,93');
  await look('a reading: how much');
  await page.getByRole('button', { name: 'Next' }).tap();
  await page.getByRole('button', { name: /^Points/ }).tap();
  if (await page.locator('#by').count()) { await page.locator('#by').fill('Bo'); await page.getByRole('button', { name: 'Into the papers' }).tap(); }
  await answered(page);
  await look('a reading: the verdict');
  await page.getByLabel('imperial').check();
  await go(`#/bike/${bike.id}/check`);
  await page.locator('.ticks > li').first().waitFor();
  await look('the check');
  await go('#/six');
  for (const step of ['Cargo', '180', '180', 'Organic', '0,13', 'Hilly']) {
    if (/^\d/.test(step)) await type_number(page, step);
    else await page.getByRole('button', { name: new RegExp(`^${step}`) }).tap();
  }
  await page.getByRole('heading', { name: 'Keep this bike' }).waitFor();
  await look('six questions: four answers');
  await page.locator('#name').fill('<b>Six</b>');
  await page.getByRole('button', { name: 'Keep it in the papers' }).tap();
  await page.getByRole('heading', { name: '<b>Six</b>' }).waitFor();
  await look('kept in the papers, markup shown as text');
  await context.close();
}

// Closed and opened again, another day and another browser: everything is there.
async function comes_back() {
  const counts = (b) => [b.name, b.verdict.do_not_ride, b.held, b.readings, b.rides.length, b.works.length, b.parts.length];
  const everything = async (page) => {
    const all = [];
    for (const b of (await api(page, '/stand')).bikes) all.push([counts(await api(page, `/bikes/${b.id}`)), (await api(page, `/bikes/${b.id}/proof`)).stops]);
    return all;
  };
  const before = await visitor('desk', { width: 1280, height: 900 });
  await before.go('#/');
  await before.page.locator('.stand-list li').first().waitFor();
  const had = await everything(before.page);
  assert.equal(had.length, 6);
  await before.context.close();
  await service.again();
  const { context, page, go, look } = await visitor('desk', { width: 1280, height: 900 });
  await go('#/');
  await page.locator('.stand-list li').first().waitFor();
  assert.deepEqual(await everything(page), had, 'the papers hold what was entered');
  await look('comes back: the program was closed, the browser is another one');
  const trail = (await api(page, '/stand')).bikes.find((b) => b.kind === 'trail' && had.some(([x]) => x[0] === b.name && x[4] > 1));
  await go(`#/bike/${trail.id}`);
  await page.getByRole('link', { name: 'pass-and-back.gpx' }).first().waitFor();
  await page.getByRole('link', { name: 'How the rotors run, and where to push' }).waitFor();
  await page.getByRole('cell', { name: 'Ada' }).first().waitFor();
  await look('comes back: rides, readings and who took them');
  await context.close();
}

// One pass in the other units over what the desk left: no metric unit stands in what a person sees. Quoted, and left: sources; the
// title of a standard's figure; sizes as stamped on rotors; words (in “ ”) and names of people; the models' own inputs in compound units.
async function imperial() {
  const { context, page, go, look } = await visitor('imperial', { width: 1280, height: 900 });
  const metric = async (what) => {
    await page.waitForTimeout(200);
    const found = await page.evaluate(() => {
      for (const d of document.querySelectorAll('details')) d.open = true;
      const quoted = [...document.querySelectorAll('main [data-quoted]')].map((e) => [e, e.style.display]);
      for (const [e] of quoted) e.style.display = 'none';
      const main = document.querySelector('main');
      const lines = [main.innerText, ...[...main.querySelectorAll('svg text:not([data-quoted])')].map((t) => t.textContent), ...[...main.querySelectorAll('[aria-label]')].map((e) => e.getAttribute('aria-label'))].flatMap((t) => (t ?? '').split('\n'));
      for (const [e, was] of quoted) e.style.display = was;
      const end = '(?![\\w²³])';
      const unit = new RegExp(`(?<![\\w/])(?:mm²?|cm|km|km/h|m/s²?|m²|µm|°C|kg|N m)${end}|\\d[ \u00a0]?(?:m|N|K|bar)(?![\\w²³°(])|, (?:m|N|K)$`, 'u');
      return [...new Set(lines.filter((l) => !l.includes('as stamped')).map((l) => l.replace(/“.*”|(?<![\p{L}\d)])'.*?'(?![\p{L}\d])/gu, '')).filter((l) => unit.test(l) || /millimet|kilomet|\bmetres?\b|kelvin|newton/i.test(l)))].map((l) => l.slice(0, 300));
    });
    for (const line of found) troubles.push(`imperial, ${what}: a metric unit: ${line}`);
    await look(`in imperial: ${what}`);
  };
  await go('#/');
  await page.locator('.stand-list li').first().waitFor();
  await page.getByLabel('imperial').check();
  await metric('the stand');
  const full = [];
  for (const b of (await api(page, '/stand')).bikes) full.push(await api(page, `/bikes/${b.id}`));
  const trail = full.find((b) => b.readings.some((r) => r.person === 'Ada')), free = full.find((b) => b.kind === 'gravel'), held = full.find((b) => b.verdict.do_not_ride);
  for (const b of new Set([free, trail, ...(held ? [held] : []), ...full.filter((x) => x.kind === 'city' || x.kind === 'cargo')])) {
    await go(`#/bike/${b.id}`);
    await page.getByRole('heading', { name: 'How hot does it get?' }).waitFor();
    await metric(`${b.kind} bike${b === held ? ', held back' : ''}`);
  }
  const ride = trail.rides.find((r) => !r.described);
  await go(`#/bike/${trail.id}/ride/${ride.id}`);
  await page.locator('[data-figure="ride"] svg').first().waitFor();
  const wear = page.getByRole('button', { name: 'What did it take off pads and rotors?' });
  if (await wear.count()) {
    await wear.click();
    await page.getByText(/thou .*off the front/).first().waitFor();
  }
  await metric('a ride and what it did');
  for (const [b, path, wait] of [[free, 'life', '[data-figure="left-in-mm"] svg'], [trail, 'run-out', '[data-figure="front-turn"] svg'], [trail, 'rows', '#rows'], [trail, 'check', '.ticks > li'], [trail, 'hold', '#why'], [free, 'try', '#mass']]) {
    await go(`#/bike/${b.id}/${path}`);
    await page.locator(wait).first().waitFor();
    if (path === 'try') {
      await page.locator('#mass').fill('400');
      await page.getByRole('button', { name: 'Try it' }).click();
      await page.getByText('Tried, not kept').waitFor();
    }
    await metric(path);
  }
  await go(`#/bike/${free.id}/stop`);
  await page.locator('[data-figure="lever-in-hand"] svg').waitFor();
  await page.locator('#grade').fill('8');
  await page.getByRole('button', { name: 'Work it out' }).click();
  await page.getByText('8 % downhill').first().waitFor();
  await metric('stop');
  await go('#/weigh');
  await page.locator('#a').selectOption(free.id);
  await page.locator('#front-rotor').fill('203');
  await page.getByRole('button', { name: 'Weigh up', exact: true }).click();
  await page.locator('[data-figure="weigh-up"] svg').waitFor();
  await metric('weigh up');
  await go(`#/bike/${free.id}/reading`);
  await metric('a reading: what');
  await page.getByRole('button', { name: 'rear rotor' }).click();
  await metric('a reading: how much');
  await type_number(page, '0.04');   // thinner than its limit in any unit
  await page.getByRole('button', { name: 'Points' }).click();
  await page.locator('#by').fill('Ada');
  await page.getByRole('button', { name: 'Into the papers' }).click();
  await page.locator('.asked, .verdict, .trouble').first().waitFor();
  await metric('a reading: asked or judged');
  await go('#/explain');
  await page.locator('[data-figure="explain-heat-compound"] svg.drawing').waitFor({ timeout: 180_000 });
  await metric('what explains it');
  await go('#/add');
  await metric('a description');
  await go('#/six');
  for (const step of ['Trail', '200', '180', 'Organic', '0,13', 'Hilly']) {
    await metric(`six questions: ${step}`);
    if (/^\d/.test(step)) await type_number(page, step);
    else await page.getByRole('button', { name: new RegExp(`^${step}`) }).click();
  }
  await page.getByRole('heading', { name: 'Keep this bike' }).waitFor();
  await metric('six questions: four answers');
  await context.close();
}

let failed = null;
try {
  await desk();
  await imperial();
  await phone();
  await comes_back();
} catch (e) {
  failed = e;
}
clearTimeout(watch);
if (failed) console.error(`after “${where}”:`, failed);
await browser.close();
await service.end().catch((e) => (failed ??= e, console.error(e.message)));
for (const t of new Set(troubles)) console.error(t);
if (failed || troubles.length) process.exit(1);
console.log(`walked in ${((Date.now() - started) / 1000).toFixed(0)} s: no console message, no foreign request, nothing serious found by axe`);
