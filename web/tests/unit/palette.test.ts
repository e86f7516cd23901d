// SPDX-License-Identifier: Apache-2.0
// Colours: sheet and palette agree, and every pair that carries words has 4.5:1.                       Layer: web, tests
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { dark, ink_on_steel, light, steel_colours, steel_from_degC, steel_step, steel_step_K } from '../../src/palette';

// Relative luminance and contrast ratio: WCAG 2.2, definitions of the terms (W3C Recommendation, 2023).
function luminance(hex: string): number {
  const part = (i: number) => {
    const c = parseInt(hex.slice(i, i + 2), 16) / 255;
    return c <= 0.04045 ? c / 12.92 : Math.pow((c + 0.055) / 1.055, 2.4);
  };
  return 0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5);
}
const contrast = (a: string, b: string): number => {
  const [x, y] = [luminance(a), luminance(b)];
  return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05);
};
const sheet = readFileSync(new URL('../../src/sheet.css', import.meta.url), 'utf8');
const named = (block: string) => Object.fromEntries([...block.matchAll(/--([a-z]+): (#[0-9a-f]{6})/g)].map((m) => [m[1], m[2]]));

describe('Colours', () => {
  it('are the same in the sheet and in what saves figures', () => {
    const root = named(sheet.slice(sheet.indexOf(':root'), sheet.indexOf('@media')));
    const at_night = named(sheet.slice(sheet.indexOf('@media (prefers-color-scheme: dark)'), sheet.indexOf('* {')));
    expect(root).toMatchObject(light);
    expect(at_night).toMatchObject(dark);
  });
  for (const [name, p] of [['light', light], ['dark', dark]] as const)
    it.each(['ink', 'soft', 'act', 'hold', 'look'] as const)(`${name}: %s can be read on paper`, (c) => {
      expect(contrast(p[c], p.paper)).toBeGreaterThanOrEqual(4.5);
    });
  it('ink can be read on plate, pad and steel', () => {
    for (const p of [light, dark]) for (const on of [p.plate, p.pad, p.steel]) expect(contrast(p.ink, on)).toBeGreaterThanOrEqual(4.5);
  });
  it('values can be read on every step of the steel scale', () => {
    steel_colours.forEach((fill, i) => expect(contrast(ink_on_steel(steel_from_degC + (i + 0.5) * steel_step_K), fill)).toBeGreaterThanOrEqual(4.5));
  });
  it('the scale has a step every 50 K from 100 °C, none below, and is open above', () => {
    expect([99.9, 100, 149.9, 150, 449, 900].map(steel_step)).toEqual([null, 0, 0, 1, 6, 6]);
    expect(steel_step(NaN)).toBeNull();
  });
});
