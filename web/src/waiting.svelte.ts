// SPDX-License-Identifier: Apache-2.0
// The queue of readings and proof stops as the page sees it; tries again when the connection returns.                      Layer: web
import { after_sending, is_proof, load, save, send, with_answers, with_entry, type Entry, type Waiting } from './queue';
import { NoConnection, service } from './service';

let all = $state.raw<Waiting[]>(load(localStorage));
let busy = false;
const post = (bike: string, entry: Entry): Promise<unknown> => (is_proof(entry) ? service.add_proof(bike, entry) : service.add_reading(bike, entry));

export const waiting = {
  get all() { return all; },
  add(one: Waiting) {
    all = with_entry(all, one);
    save(localStorage, all);
  },
  drop(entry_id: string) {
    all = all.filter((w) => w.entry.entry_id !== entry_id);
    save(localStorage, all);
  },
  async answer(entry_id: string, answers: Record<string, string>) {
    all = all.map((w) => (w.entry.entry_id === entry_id ? with_answers(w, answers) : w));
    save(localStorage, all);
    await this.send_now();
  },
  async send_now(): Promise<number> {
    if (busy || !all.length) return 0;
    busy = true;
    try {
      const before = all;
      const { left, sent } = await send(before, post, (e) => e instanceof NoConnection);
      const now = after_sending(all, before, left);
      if (now.length !== all.length || now.some((w, i) => w !== all[i])) {
        all = now;
        save(localStorage, all);
      }
      return sent;
    } finally {
      busy = false;
    }
  },
};

export function keep_trying(): () => void {
  const go = () => void waiting.send_now();
  window.addEventListener('online', go);
  const timer = setInterval(go, 15_000);
  go();
  return () => {
    window.removeEventListener('online', go);
    clearInterval(timer);
  };
}
