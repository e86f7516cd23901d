// SPDX-License-Identifier: Apache-2.0
import { describe, expect, it } from 'vitest';
import { explain_figure, interval_in, rows_of } from '../../src/figures/explain';
import type { ExplainFigure } from '../../src/wire';

const told: ExplainFigure = {
  of: 'stop', name: 'housing_give', title: 'Housing', caption: 'Travel.', cases: 64, assumptions: ['travel grows'], sources: [{ text: 'a table', grade: 'published_from_memory' }],
  claims: [{ text: 'ordinary takes more', holds_share: 1 }, { text: 'and wears', holds_share: 0.997 }], variants: [],
  columns: { variant: ['ordinary', 'ordinary'], lever_force_N: [20, 40], lever_travel_mm_p05: [3, null], lever_travel_mm_p50: [4, 8], lever_travel_mm_p95: [6, 9] },
};

describe('the figures that explain', () => {
  it('read columns as rows, and an interval only where all its points are known', () => {
    const rows = rows_of(told);
    expect(rows).toHaveLength(2);
    expect(interval_in(rows[0]!, 'lever_travel_mm', '')).toEqual({ p05: 3, p50: 4, p95: 6 });
    expect(interval_in(rows[1]!, 'lever_travel_mm', '')).toBeNull();
  });
  it('say in how many cases each claim holds, and “all” only where it is all', () => {
    const f = explain_figure(told, 'metric')!;
    expect(f.claims).toEqual(['Ordinary takes more: in all 64 likely cases.', 'And wears: in 99\u00a0% of the likely cases.']);
    expect(f.sources).toEqual(['a table (from memory)']);
    expect(f.assumptions).toEqual(['travel grows']);
    expect(f.table.rows[1]![2]).toBe('not known');
  });
  it('are in this reader’s units', () => {
    expect(explain_figure(told, 'imperial')!.table.rows[0]![2]).toMatch(/in \(/);
  });
  it('leave out one that is not known here', () => expect(explain_figure({ ...told, name: 'other' }, 'metric')).toBeNull());
});
