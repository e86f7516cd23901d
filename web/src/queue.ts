// SPDX-License-Identifier: Apache-2.0
// Readings and proof stops that could not be sent: kept in the open page and in the browser's store until they are.        Layer: web
// The same entry_id goes out each time, so an entry whose answer got lost is stored once.
import type { ProofEntry, Question, ReadingEntry } from './wire';

export type Entry = ReadingEntry | ProofEntry;
export type Waiting = { bike: string; bike_name: string; entry: Entry; typed_at: string; refused?: string; questions?: Question[] };
export const is_proof = (e: Entry): e is ProofEntry => 'from_mps' in e;
type Store = Pick<Storage, 'getItem' | 'setItem'>;
const key = 'brakewright.waiting';

const is_waiting = (x: unknown): x is Waiting => {
  const w = x as Waiting | null;
  return typeof w === 'object' && w !== null && typeof w.bike === 'string' && typeof w.entry?.entry_id === 'string' &&
    (is_proof(w.entry) ? typeof w.entry.from_mps === 'number' && typeof w.entry.distance_m === 'number' && typeof w.entry.wheel === 'string' : Array.isArray(w.entry.values));
};

export function load(store: Store): Waiting[] {
  try {
    const all: unknown = JSON.parse(store.getItem(key) ?? '[]');
    // What was asked is asked anew: the papers may have changed since.
    return Array.isArray(all) ? all.filter(is_waiting).map(({ questions: _, ...w }) => w) : [];
  } catch {
    return [];
  }
}

export function save(store: Store, all: Waiting[]): void {
  try {
    store.setItem(key, JSON.stringify(all));
  } catch {
    // A full or forbidden store: the open page still holds the entries.
  }
}

export const with_entry = (all: Waiting[], one: Waiting): Waiting[] => [...all.filter((w) => w.entry.entry_id !== one.entry.entry_id), one];

//! An entry is of the day on which it was taken, not of the day on which the connection came back.
const dated = (w: Waiting, today: string): Entry => {
  const typed = w.typed_at.slice(0, 10);
  if (!/^\d{4}-\d\d-\d\d$/.test(typed) || typed >= today) return w.entry;
  if (is_proof(w.entry)) return w.entry.date ? w.entry : { ...w.entry, date: typed };
  return w.entry.day ? w.entry : { ...w.entry, day: typed };
};

const counted = (n: number, one: string, more: string): string[] => (n === 0 ? [] : [n === 1 ? `1 ${one}` : `${n} ${more}`]);
export function waits_text(all: Waiting[]): string {
  const stops = all.filter((w) => is_proof(w.entry)).length;
  return `${[...counted(all.length - stops, 'reading', 'readings'), ...counted(stops, 'proof stop', 'proof stops')].join(' and ')} ${all.length === 1 ? 'waits' : 'wait'}`;
}
export const named = (e: Entry): string => (is_proof(e) ? `${e.wheel} proof stop` : `${e.place} ${e.quantity.replace(/_/g, ' ')}`);

//! An entry with what a person answered: it goes out again.
export const with_answers = ({ refused: _r, questions: _q, ...w }: Waiting, answers: Record<string, string>): Waiting => ({ ...w, entry: { ...w.entry, answers: { ...w.entry.answers, ...answers } } });

//! What waits after a round of sending: what was left out, answered or added meanwhile stays as it is now.
export const after_sending = (now: Waiting[], before: Waiting[], left: Waiting[]): Waiting[] =>
  now.flatMap((w) => {
    const sent = before.find((b) => b.entry.entry_id === w.entry.entry_id);
    if (!sent || sent !== w) return [w];
    const still = left.find((l) => l.entry.entry_id === w.entry.entry_id);
    return still ? [still] : [];
  });

//! Sends what waits, oldest first; stops at the first that finds no connection. A refused one stays, with what was said;
//! one that something is asked about stays with the questions, and goes out again when they are answered.
export async function send(
  all: Waiting[],
  post: (bike: string, entry: Entry) => Promise<unknown>,
  offline: (e: unknown) => boolean,
  today = new Date().toISOString().slice(0, 10),
): Promise<{ left: Waiting[]; sent: number }> {
  const left: Waiting[] = [];
  let sent = 0;
  for (const [i, w] of all.entries()) {
    if (w.questions) {
      left.push(w);
      continue;
    }
    try {
      await post(w.bike, dated(w, today));
      ++sent;
    } catch (e) {
      if (offline(e)) return { left: [...left, ...all.slice(i)], sent };
      const questions = (e as { questions?: Question[] } | null)?.questions;
      left.push(questions?.length ? { ...w, refused: undefined, questions } : { ...w, refused: e instanceof Error ? e.message : String(e) });
    }
  }
  return { left, sent };
}
