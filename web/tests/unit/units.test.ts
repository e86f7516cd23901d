// SPDX-License-Identifier: Apache-2.0
// Numbers as people read and type them.                                                              Layer: web, tests
import { describe, expect, it } from 'vitest';
import { converted, digits_of, interval_text, number_text, percent, significant, typed_mm, typed_number } from '../../src/units';

describe('What somebody types', () => {
  it.each([['2,6', 2.6], ['2.6', 2.6], [' 2,60 ', 2.6], ['.5', 0.5], [',5', 0.5], ['26', 26], ['-0,05', -0.05], ['−3', -3]])('%s is a number', (text, value) => {
    expect(typed_number(text)).toMatchObject({ value });
  });
  it.each(['', 'abc', '2,6.1', '1.234,5', '--2', '2 6', 'NaN', '1e3', ','])('%s is refused with a sentence', (text) => {
    const typed = typed_number(text);
    expect('error' in typed && typed.error.length > 10).toBe(true);
  });
  it('a typed unit wins over the switch', () => {
    expect(typed_mm('0,1 in', 'metric')).toEqual({ value_mm: 2.54 });   // 1 in = 25.4 mm, by definition
    expect(typed_mm('2.6 mm', 'imperial')).toEqual({ value_mm: 2.6 });
    expect(typed_mm('0.1', 'imperial')).toEqual({ value_mm: 2.54 });
    expect(typed_mm('3 kg', 'metric')).toHaveProperty('error');
  });
});

describe('What somebody reads', () => {
  // Definitions: NIST SP 811 (2008) app. B: foot 0.3048 m, mile 1.609344 km, pound 0.45359237 kg, pound-force 4.4482216 N, °F = 1.8 °C + 32.
  it('imperial follows the definitions', () => {
    expect(converted(0.3048, 'room_m', 'imperial')).toBeCloseTo(1, 12);
    expect(converted(1609.344, 'ride_m', 'imperial')).toBeCloseTo(1, 12);
    expect(converted(0.45359237, 'mass_kg', 'imperial')).toBeCloseTo(1, 12);
    expect(converted(4.4482216152605, 'force_N', 'imperial')).toBeCloseTo(1, 12);
    expect(converted(100, 'temperature_degC', 'imperial')).toBeCloseTo(212, 12);
    expect(converted(0.44704, 'speed_mps', 'imperial')).toBeCloseTo(1, 12);
  });
  it.each([[10701.07, 2, '11,000'], [0.0123456, 2, '0.012'], [999.6, 3, '1,000'], [-0.741, 2, '−0.74'], [0, 2, '0'], [-0.0001, 1, '−0.0001'], [18.04, 2, '18']])('%d with %d digits is %s', (v, digits, text) => {
    expect(significant(v, digits)).toBe(text);
  });
  it('an interval gets no more digits than it deserves', () => {
    expect(digits_of({ p05: 7.2, p50: 8.9, p95: 11.1 })).toBe(2);
    expect(digits_of({ p05: 99, p50: 100, p95: 101 })).toBe(3);
    expect(interval_text({ p05: 14.3, p50: 18.04, p95: 23.8 }, 'room_m', 'metric')).toBe('18\u00a0m (14 to 24)');
    expect(interval_text({ p05: 32_507_000, p50: 1e8, p95: 1e8 }, 'ride_m', 'metric', 100_000_000)).toBe('over 100,000\u00a0km (33,000 to over 100,000)');
  });
  it('temperatures and heights are whole', () => {
    expect(number_text(69.118, 'temperature_degC', 'metric')).toBe('69');
    expect(number_text(530.19, 'height_m', 'metric')).toBe('530');
    expect(percent(0.015625)).toBe('2\u00a0%');
    expect(percent(0.001)).toBe('under 1\u00a0%');
    expect(percent(0)).toBe('0\u00a0%');
  });
});
