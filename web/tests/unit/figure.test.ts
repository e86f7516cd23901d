// SPDX-License-Identifier: Apache-2.0
// Ticks of an axis in tenfolds.                                                                      Layer: web, tests
import { expect, it } from 'vitest';
import { decades } from '../../src/figures/figure';

it.each([[600, 115_000, 5, [1e3, 1e4, 1e5]], [600, 115_000, 2, [1e3, 1e5]], [1000, 1000, 3, [1e3]], [2, 9, 3, []], [0.5, 2e6, 3, [1, 1e3, 1e6]]])('from %s to %s, at most %s', (low, high, most, ticks) => {
  const got = decades(low, high, most);
  expect(got.length).toBeLessThanOrEqual(most);
  expect(got).toHaveLength(ticks.length);
  got.forEach((v, i) => expect(v).toBeCloseTo(ticks[i]!, 9));
});
