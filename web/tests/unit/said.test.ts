// SPDX-License-Identifier: Apache-2.0
// Sentences of the program in the units asked for.                                                        Layer: web, tests
// Factors: NIST SP 811 (2008), appendix B.8: foot 0.3048 m, mile 1.609344 km, pound-force 4.448222 N, pound 0.45359237 kg, psi 6894.757 Pa; exact or as printed there.
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { beside, in_units, with_days } from '../../src/said';

const said = (text: string) => in_units(text, 'imperial');
describe('sentences in the units asked for', () => {
  it('leaves metric ones as they are', () => expect(in_units('1.49 mm at 25 km/h', 'metric')).toBe('1.49 mm at 25 km/h'));
  it.each([
    ['From 25 km/h leave 18 m of room.', 'From 15.5 mph leave 59 ft of room.'],
    ['about 1,200 km (800 to over 2,500)', 'about 746 mi (497 to over 1,550)'],
    ['Fluid up to 181 °C, 12 K warmer', 'Fluid up to 358 °F, 22 °F warmer'],
    ['between 180 and 220 °C', 'between 356 and 428 °F'],
    ['−5 to 30 °C', '23 to 86 °F'],
    ['20 ± 5 °C', '68 ± 9 °F'],
    ['this hand gives 178 N', 'this hand gives 40.0 lbf'],
    ['slows by 5.1 m/s² with 82 bar', 'slows by 16.7 ft/s² with 1,190 psi'],
    ['a rotor, 2.60\u00a0mm', 'a rotor, 0.1024\u00a0in'],
    ['room with reaction 18 (14 to 24) m', 'room with reaction 59 ft (46 to 79)'],
    ['a torque of 5 N m', 'a torque of 3.7 lbf ft'],
    ['95 kg, 2,500 m down', '209 lb, 8,200 ft down'],
  ])('%s', (metric, imperial) => expect(said(metric)).toBe(imperial));
  it('says no figure that stands for something else in another unit', () => {
    for (const text of ['no reason found in 9 of 12 checks', '0.35 g', 'ISO 4210-2:2018 4.6.9', 'on 2026-05-01', 'in 3 of the cases', '400 W for 12 s', 'pass-12 Nm', 'Kestrel 2', '12.5 kJ', '1024 cases', 'W/(m2 K)', '14 W/(m K)', '0.09 kg m²']) expect(said(text)).toBe(text);
    expect(said('in 3 of 12 checks, 20 mm left')).toBe('in 3 of 12 checks, 0.79 in left');
    expect(said('after ride 5, 20 km more')).toBe('after ride 5, 12.4 mi more');
  });
  // A record is not rewritten: what a person gave as the reason, and the name that they gave to a part.
  it('leaves words of people as they were written', () => {
    const hold = 'held back by Ada on 2026-05-01: “rotor reads 1,4 / 1.4 mm at the 3 m mark”. It reads';
    expect(said(`${hold} 1.49 mm.`)).toBe(`${hold} 0.0587 in.`);
    expect(said('“she said “2 mm” of 5 mm” and 20 mm')).toBe('“she said “2 mm” of 5 mm” and 0.79 in');
    expect(said('the rotor \'180 mm\' came to it, and \'Ada\'s 5 mm\': 20 mm. The maker\'s 2 mm and riders\' 5 mm')).toBe('the rotor \'180 mm\' came to it, and \'Ada\'s 5 mm\': 0.79 in. The maker\'s 0.08 in and riders\' 0.20 in');
    expect(said('a mark that never ends: “5 mm and 20 mm')).toBe('a mark that never ends: “5 mm and 20 mm');
  });
  it.each([
    ['Have its successor by 2041-06-16: there', 'Have its successor by 16 June 2041: there'],
    ['read 2 mm on 2026-05-29, and 0.9 mm on 2026-05-28.', 'read 2 mm on 29 May 2026, and 0.9 mm on 28 May 2026.'],
    ['(2024-10-12)', '(12 October 2024)'],
    ['set \'pads, from 2026-10-02\' and “on 2026-10-02” of 2026-10-02', 'set \'pads, from 2026-10-02\' and “on 2026-10-02” of 2 October 2026'],
  ])('says days as people do: %s', (text, words) => { expect(with_days(text)).toBe(words); expect(with_days(text)).toBe(words); });
  it('leaves times, files and what is no day', () => {
    for (const text of ['at 2026-05-12T10:42:00+02:00', 'ride-2026-05-12.gpx', '2026-05-12.gpx', 'ISO 4210-2:2018', 'from 2026-13-40 on', 'none']) expect(with_days(text)).toBe(text);
  });
  it('puts what a standard asks and what the bike does in one unit, to one step', () => {
    expect(beside('5.5', '4.6 (4.1 to 5.3)', 'm', 'metric')).toEqual(['5.5 m', '4.6 (4.1 to 5.3) m']);
    expect(beside('5.5', '4.6 (4.1 to 5.3)', 'm', 'imperial')).toEqual(['18.0 ft', '15.1 ft (13.5 to 17.4)']);
    expect(beside('4.57', '4.6 (4.1 to 5.3)', 'm', 'imperial')).toEqual(['14.99 ft', '15.09 ft (13.45 to 17.39)']);
    expect(beside(null, '180 (150 to 210)', 'N', 'imperial')).toEqual([null, '40.5 lbf (33.7 to 47.2)']);
    expect(beside('3', null, undefined, 'imperial')).toEqual(['3 ', null]);
  });
  // Sentences that this reader would turn in part only: a list with one unit, an interval away from its unit, °C for a difference.
  it('meets no sentence of the program that it would turn in part', () => {
    const n = '(?:\\{[^{}]*\\}|[−-]?\\d+(?:\\.\\d+)?)', u = '(?:µm|mm²?|cm|km/h|km|m/s²?|m|°C|K|N m|N|kg|bar)(?![\\w²³/°])';
    const half_read = [
      new RegExp(`(?<!between )${n} and ${n} ${u}|${n}, ${n},? or ${n} ${u}`, 'u'),
      new RegExp(`${n} ${u} [^().:;]*[^().:; ] \\(${n} to (?:over )?${n}\\)(?! ${u})`, 'u'),
      new RegExp(`${n} °C (?:hotter|warmer|colder|cooler|more|less|higher|lower|apart)|(?:differs?|rises?|rose|warms|cools|off|wrong) by (?:up to |about )?${n} °C`, 'u'),
    ];
    for (const text of ['0.05, 0.1 and 0.2 mm', '15 and {} mm', '{:.1f} mm left ({:.1f} to {:.1f})', '20 °C hotter']) expect(half_read.some((x) => x.test(text)), text).toBe(true);
    for (const text of ['between {} and {} mm', '{} mm ({} to {})', '{} ({} to {}) m', 'in {} of {} checks', '{} K hotter', '{} to {} °C']) expect(half_read.some((x) => x.test(text)), text).toBe(false);
    const found: string[] = [];
    let texts = 0;
    const look = (folder: string) => {
      for (const one of readdirSync(folder, { withFileTypes: true })) {
        if (one.isDirectory()) look(join(folder, one.name));
        else if (one.name.endsWith('.cpp'))
          for (const m of readFileSync(join(folder, one.name), 'utf8').matchAll(/"((?:[^"\\\n]|\\.)*)"/g)) {
            ++texts;
            if (half_read.some((x) => x.test(m[1]!))) found.push(`${one.name}: ${m[1]}`);
          }
      }
    };
    look(join(__dirname, '../../../src'));
    expect(texts).toBeGreaterThan(5000);
    expect(found).toEqual([]);
  });
  it('says a sentence once', () => {
    const once = said('1.49 mm, 25 km/h, 18 m (14 to 24), 180 °C, 60 N, 95 kg');
    expect(said(once)).toBe(once);
  });
  // A reading just under, at and just over its limit stays so in the other unit, for every limit that a brake has.
  it('rounds nothing across a limit', () => {
    const first = (text: string) => /[\d.,]+/.exec(text)![0].replace(/,/g, ''), second = (text: string) => /and ([\d.,]+)/.exec(text)![1]!.replace(/,/g, '');
    for (const [unit, from, to, decimals] of [['mm', 0.5, 3, 2], ['mm', 0.05, 2, 3], ['mm', 10, 60, 0], ['°C', 90, 300, 0], ['N', 40, 400, 0], ['m', 4, 60, 1], ['km', 1, 3000, 0], ['kg', 40, 300, 0]] as const) {
      const step = 10 ** -decimals;
      for (let limit = from; limit < to; limit += Math.max(step, (to - from) / 400))
        for (const [d, sign] of [[-step, -1], [0, 0], [step, 1]] as const) {
          const text = said(`it reads ${(limit + d).toFixed(decimals)} ${unit} and ${limit.toFixed(decimals)} ${unit} is its limit`);
          expect(Math.sign(Number(first(text)) - Number(second(text))), text).toBe(sign);
        }
    }
    // The limit said with fewer digits than the reading.
    expect(said('it reads 1.49 mm, its limit is 1.5 mm')).toBe('it reads 0.0587 in, its limit is 0.0591 in');
    expect(said('it reads 1.50 mm, its limit is 1.5 mm')).toBe('it reads 0.0591 in, its limit is 0.0591 in');
  });
});
