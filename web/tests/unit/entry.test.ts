// SPDX-License-Identifier: Apache-2.0
// What a reading sends: sides, plate and anvil go with it, and nothing that was not read.              Layer: web, tests
import { describe, expect, it } from 'vitest';
import { dial_angles, entry_of, whats } from '../../src/entry';
import { section } from '../../src/figures/brake';
import { page_for, pages } from '../../src/pages';
import type { WheelBrake } from '../../src/wire';

const what = (q: string) => whats.find((w) => w.quantity === q)!;

describe('An entry', () => {
  it('has both pads with their sides and the plate', () =>
    expect(entry_of(what('pad_thickness'), 'front', { left: 2.6, right: 2.4 }, { with_plate: 'yes' }, [], 'A', null, 'id')).toEqual({ place: 'front', quantity: 'pad_thickness', values: [2.6, 2.4], sides: ['left', 'right'], with_plate: 'yes', by: 'A', entry_id: 'id' }));
  it('leaves out the pad that was skipped', () => expect(entry_of(what('pad_thickness'), 'rear', { right: 2.4 }, { with_plate: 'no' }, [], 'A', null, 'id')).toMatchObject({ values: [2.4], sides: ['right'] }));
  it('is none while nothing was read', () => {
    expect(entry_of(what('pad_thickness'), 'rear', {}, { with_plate: 'no' }, [], 'A', null, 'id')).toBeNull();
    expect(entry_of(what('run_out'), 'front', {}, {}, [{ angle_deg: 0, value_mm: 0 }], 'A', null, 'id')).toBeNull();
  });
  it('sorts a dial reading by angle', () => {
    const entry = entry_of(what('run_out'), 'front', {}, {}, [{ angle_deg: 270, value_mm: 4 }, { angle_deg: 180, value_mm: 3 }, { angle_deg: 0, value_mm: 1 }, { angle_deg: 90, value_mm: 2 }], 'A', null, 'id');
    expect(entry).toMatchObject({ values: [1, 2, 3, 4], angles_deg: [0, 90, 180, 270] });
  });
  it('asks for the anvil of a rotor and the plate of pads', () => {
    expect(what('rotor_thickness').steps('front').some((s) => s.kind === 'choice' && s.key === 'anvil')).toBe(true);
    expect(what('pad_thickness').steps('front').some((s) => s.kind === 'choice' && s.key === 'with_plate')).toBe(true);
  });
  it('goes evenly around', () => expect(dial_angles(8)).toEqual([0, 45, 90, 135, 180, 225, 270, 315]));
});

describe('The section of a brake', () => {
  const brake = { rotor: { thickness_mm: 1.8 }, pads: { left: { friction_thickness_mm: 1.5 }, right: { friction_thickness_mm: null }, plate_thickness_mm: 1.9, plate_measured: true } } as WheelBrake;
  it('is as thick as its parts and two gaps of 0.25 mm', () => expect(section(brake).width_mm).toBeCloseTo(1.9 + 1.5 + 0.25 + 1.8 + 0.25 + 1.5 + 1.9, 12));
  it('marks what nobody measured', () => expect(section(brake).slabs.map((s) => s.known)).toEqual([true, true, true, false, true]));
});

describe('Pages', () => {
  it('are found by their path, and their colons stand for ids', () => {
    expect(page_for('/bike/a%20b/ride/c')?.params).toEqual({ bike: 'a b', ride: 'c' });
    expect(page_for('/nowhere')).toBeNull();
    expect(new Set(pages.map((p) => p.path)).size).toBe(pages.length);
  });
});
