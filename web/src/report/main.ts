// SPDX-License-Identifier: Apache-2.0
// The report: the same figures as on the pages, put into the places that the program's HTML left for them. Layer: web, report
// Without scripts the HTML's own tables stand alone. Nothing is fetched.
import '../sheet.css';
import './report.css';
import { account_figure } from '../figures/account';
import { el, type Figure } from '../figures/figure';
import { heat_peaks_figure } from '../figures/heat_peaks';
import { life_figure } from '../figures/life';
import { ride_figure } from '../figures/ride';
import { stops_figure } from '../figures/stops';
import { downhill_share, trace_of } from '../trace';
import type { Answer, Series } from '../wire';
import { assumed_for, heat_said, hottest, key_words, life_rows, life_said, stop_said, type Said } from '../words';

const read = <T>(id: string): T | null => {
  const text = document.getElementById(id)?.textContent;
  return text ? (JSON.parse(text) as T) : null;
};
const paragraph = (words: string, kind = ''): HTMLParagraphElement => {
  const p = document.createElement('p');
  if (kind) p.className = kind;
  p.textContent = words;
  return p;
};

function put(place: string, parts: (Node | null)[]): void {
  document.querySelector(`[data-place="${place}"]`)?.replaceChildren(...parts.filter((p): p is Node => p !== null));
}
const said = (s: Said): Node[] => [paragraph(s.sentence, 'sentence'), ...s.more.map((m) => paragraph(m))];

const drawn: { holder: HTMLElement; figure: Figure }[] = [];
function shown(figure: Figure): HTMLElement {
  const f = document.createElement('figure');
  f.dataset.figure = figure.id;
  const holder = document.createElement('div');
  const caption = document.createElement('figcaption');
  caption.textContent = [figure.caption, figure.interval, ...(figure.assumptions.length ? [`Assumed: ${figure.assumptions.join(', ')}.`] : []), ...(figure.sources.length ? [`Sources: ${figure.sources.join('; ')}`] : [])].join(' ');
  f.append(holder, caption);
  drawn.push({ holder, figure });
  return f;
}
function draw_all(width?: number): void {
  for (const { holder, figure } of drawn) {
    const svg = figure.draw(Math.floor(width ?? holder.clientWidth));
    svg.setAttribute('role', 'img');
    svg.setAttribute('aria-label', figure.says);
    svg.prepend(el('title', {}, figure.title));
    holder.replaceChildren(svg);
  }
}

const answer = read<Answer>('answer');
const series = read<(Series | null)[]>('series') ?? [];
if (answer) {
  const system = 'metric';
  const keys = (of: 'stop' | 'heat' | 'life') => assumed_for(answer, of).slice(0, 8).map((a) => key_words(a.key));
  const sources = (of: 'stop' | 'heat' | 'life') => [...new Set(assumed_for(answer, of).filter((a) => a.grade.startsWith('published')).map((a) => a.source))].slice(0, 4);
  const free = !answer.verdict.do_not_ride;
  put('stop', [...said(stop_said(answer, system)), free && answer.stops.some((s) => s.room_needed_m) ? shown(stops_figure(answer.stops, system, keys('stop'), sources('stop'))) : null]);
  const top = hottest(answer.rides);
  put('heat', [...said(heat_said(answer, system)), top ? shown(heat_peaks_figure(top.ride, system, keys('heat'), sources('heat'))) : null]);
  put('life', [...said(life_said(answer, system)), free && life_rows(answer.life).length ? shown(life_figure(life_rows(answer.life), system, keys('life'), sources('life'))) : null]);
  answer.rides.forEach((ride, i) => {
    const own = series[i];
    const trace = own ? trace_of(own) : null;
    put(`ride-${i}`, [
      trace && trace.n > 1 ? shown(ride_figure(trace, ride, system, downhill_share(trace) < 0.5 ? 'distance' : 'descended', null, ['what the description leaves out, by default, with its spread'], ['The recording, through the models of motion and heat (docs/models).'])) : null,
      ride.account_J ? shown(account_figure(ride.account_J, system)) : null,
    ]);
  });
  draw_all();
  let wait = 0;
  window.addEventListener('resize', () => {
    window.clearTimeout(wait);
    wait = window.setTimeout(() => draw_all(), 150);
  });
  // Paper is narrower than a desk: what would be shrunk is drawn anew.
  window.addEventListener('beforeprint', () => draw_all(680));
  window.addEventListener('afterprint', () => draw_all());
}
