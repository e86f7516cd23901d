// SPDX-License-Identifier: Apache-2.0
// A ride's numbers: along metres descended, blocks, zoom.                                              Layer: web, tests
import { describe, expect, it } from 'vitest';
import { blocks, downhill_share, first_at, moved, trace_of, zoomed, type Domain } from '../../src/trace';

const series = {
  thinned_from: 6,
  columns: { t_s: [0, 1, 2, 3, 4, 5], distance_m: [0, 5, 10, 15, 20, 25], altitude_m: [100, 101, 99, 97, 97, 96], speed_mps: [5, 5, 5, 5, 5, 5], front_brake_power_W: [0, 0, 100, 200, 0, 50], front_rotor_degC: [20, 20, 80, 120, 110, 115], rear_brake_power_W: [0, 0, 0, 0, 0, 0], rear_rotor_degC: [20, 20, 20, 20, 20, null] },
};

describe('A trace', () => {
  const t = trace_of(series);
  it('descends by what the height falls, and stands still on the way up', () => expect([...t.descended_m]).toEqual([0, 0, 2, 4, 4, 5]));
  it('takes the service’s own metres descended where they are given', () => expect([...trace_of({ ...series, columns: { ...series.columns, descended_m: [0, 0, 1, 2, 3, 4] } }).descended_m]).toEqual([0, 0, 1, 2, 3, 4]));
  it('keeps what is not known as not a number', () => expect(t.rear.rotor_degC[5]).toBeNaN());
  it('finds where a brake worked, with the hottest of it', () => {
    expect(blocks(t, 'front', 'time')).toMatchObject([{ from: 2, to: 4, hottest_degC: 120, peak_W: 200 }, { from: 5, to: 5, hottest_degC: 115 }]);
    expect(blocks(t, 'rear', 'time')).toEqual([]);
    expect(blocks(t, 'front', 'time', 1)).toHaveLength(1);
  });
  it('says how much of the braking was on the way down', () => expect(downhill_share(t)).toBeCloseTo(1, 12));
});

describe('Looking closer', () => {
  const whole: Domain = [0, 100];
  it('never leaves the ride', () => {
    for (const factor of [0.01, 0.5, 2, 50]) for (const about of [-10, 0, 40, 100, 130]) {
      const [a, b] = zoomed([10, 60], whole, factor, about);
      expect(a).toBeGreaterThanOrEqual(0);
      expect(b).toBeLessThanOrEqual(100 + 1e-9);
      expect(b - a).toBeGreaterThanOrEqual(0.25 - 1e-9);
    }
  });
  it('keeps the place under the finger', () => {
    const [a, b] = zoomed([0, 100], whole, 0.5, 25);
    expect((25 - a) / (b - a)).toBeCloseTo(0.25, 12);
  });
  it('moves to the ends and no further', () => {
    expect(moved([10, 60], whole, -50)).toEqual([0, 50]);
    expect(moved([10, 60], whole, 500)).toEqual([50, 100]);
  });
  it('finds a place by halving', () => expect([-1, 0, 2.5, 5, 9].map((v) => first_at(Float64Array.from([0, 2, 4, 6]), v))).toEqual([0, 0, 2, 3, 4]));
});
