// SPDX-License-Identifier: Apache-2.0
// Readings that wait for a connection: none lost, none sent as another.                                Layer: web, tests
import { describe, expect, it } from 'vitest';
import { after_sending, load, named, save, send, waits_text, with_answers, with_entry, type Waiting } from '../../src/queue';
import type { ProofEntry, ReadingEntry } from '../../src/wire';

const one = (n: number): Waiting => ({ bike: 'b', bike_name: 'B', typed_at: '', entry: { place: 'front', quantity: 'pad_thickness', values: [n], by: 'A', entry_id: `id-${n}` } });
const proof = (n: number, date?: string): Waiting => ({ bike: 'b', bike_name: 'B', typed_at: '', entry: { wheel: 'front', from_mps: 5, distance_m: n, by: 'A', entry_id: `stop-${n}`, ...(date ? { date } : {}) } });
const store = () => {
  const kept = new Map<string, string>();
  return { getItem: (k: string) => kept.get(k) ?? null, setItem: (k: string, v: string) => void kept.set(k, v) };
};
class Offline extends Error {}
const offline = (e: unknown) => e instanceof Offline;

describe('The queue', () => {
  it('comes back from the store as it was', () => {
    const s = store();
    save(s, [one(1), one(2)]);
    expect(load(s)).toEqual([one(1), one(2)]);
  });
  it('reads a damaged store as empty, and leaves out what is no entry', () => {
    const s = store();
    s.setItem('brakewright.waiting', '{nonsense');
    expect(load(s)).toEqual([]);
    s.setItem('brakewright.waiting', JSON.stringify([null, { bike: 1 }, one(3)]));
    expect(load(s)).toEqual([one(3)]);
  });
  it('holds an entry once', () => expect(with_entry([one(1)], one(1))).toHaveLength(1));
  it('stops at the first without connection, keeps order and ids', async () => {
    const sent: string[] = [];
    const result = await send([one(1), one(2), one(3)], async (_, e) => {
      if (e.entry_id === 'id-2') throw new Offline();
      sent.push(e.entry_id);
    }, offline);
    expect(sent).toEqual(['id-1']);
    expect(result).toEqual({ left: [one(2), one(3)], sent: 1 });
  });
  it('dates what waited over night by the day it was typed, and nothing else', async () => {
    const days: (string | undefined)[] = [];
    const waits = ['2026-05-01T21:00:00.000Z', '2026-05-02T06:00:00.000Z', ''].map((typed_at, i) => ({ ...one(i), typed_at }));
    await send(waits, async (_, e) => { days.push((e as ReadingEntry).day ?? undefined); }, offline, '2026-05-02');
    expect(days).toEqual(['2026-05-01', undefined, undefined]);
  });
  it('holds proof stops beside readings, and says what waits', () => {
    const s = store();
    save(s, [one(1), proof(8)]);
    expect(load(s)).toEqual([one(1), proof(8)]);
    s.setItem('brakewright.waiting', JSON.stringify([{ ...proof(8), entry: { entry_id: 'x', from_mps: 5 } }]));
    expect(load(s)).toEqual([]);
    expect(waits_text([one(1)])).toBe('1 reading waits');
    expect(waits_text([one(1), one(2), proof(8)])).toBe('2 readings and 1 proof stop wait');
    expect(waits_text([proof(8)])).toBe('1 proof stop waits');
    expect(named(proof(8).entry)).toBe('front proof stop');
    expect(named(one(1).entry)).toBe('front pad thickness');
  });
  // A stop typed without connection can meet a question later: it waits for a person, not for the next try.
  it('keeps what is asked about, sends it again only with the answer, and loses nothing that happens meanwhile', async () => {
    const questions = [{ code: 'lever_place', text: 'Another place?', choices: [{ value: 'again', text: 'again' }, { value: 'keep', text: 'keep' }] }];
    const sent: (Record<string, string> | null | undefined)[] = [];
    const post = async (_: string, e: ReadingEntry | ProofEntry) => {
      sent.push(e.answers as Record<string, string> | undefined);
      if (!e.answers) throw Object.assign(new Error('Another place?'), { questions });
    };
    const asked = (await send([proof(8)], post, offline)).left;
    expect(asked[0]!.questions).toEqual(questions);
    expect((await send(asked, post, offline)).left).toEqual(asked);
    expect(sent).toHaveLength(1);
    const s = store();
    save(s, asked);
    expect(load(s)[0]!.questions).toBeUndefined();
    const told = with_answers(asked[0]!, { lever_place: 'keep' });
    expect(told.entry.entry_id).toBe('stop-8');
    // Answered, left out and added while a round of sending was under way.
    const going = [asked[0]!, one(1), one(2)], fresh = one(3);
    expect(after_sending([told, one(2), fresh].map((w, i) => (i === 1 ? going[2]! : w)), going, going)).toEqual([told, one(2), fresh]);
    expect(await send([told], post, offline)).toEqual({ left: [], sent: 1 });
    expect(sent.at(-1)).toEqual({ lever_place: 'keep' });
  });
  it('dates a proof stop that waited over night, and never one that has its day', async () => {
    const days: (string | undefined)[] = [];
    const waits = [proof(8), proof(9, '2026-03-01')].map((w) => ({ ...w, typed_at: '2026-05-01T21:00:00.000Z' }));
    await send(waits, async (_, e) => { days.push((e as ProofEntry).date); }, offline, '2026-05-02');
    expect(days).toEqual(['2026-05-01', '2026-03-01']);
  });
  it('keeps what was refused with the reason, and goes on', async () => {
    const result = await send([one(1), one(2)], async (_, e) => { if (e.entry_id === 'id-1') throw new Error('thicker than before'); }, offline);
    expect(result.sent).toBe(1);
    expect(result.left).toEqual([{ ...one(1), refused: 'thicker than before' }]);
  });
});
