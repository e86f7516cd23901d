// SPDX-License-Identifier: Apache-2.0
// The queue of readings and proof stops as the page sees it; tries again when the connection returns.                      Layer: web
import { is_proof, load, save, send, with_entry, type Entry, type Waiting } from './queue';
import { NoConnection, service } from './service';

let all = $state<Waiting[]>(load(localStorage));
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
  async send_now(): Promise<number> {
    if (busy || !all.length) return 0;
    busy = true;
    try {
      const before = all;
      const { left, sent } = await send(before, post, (e) => e instanceof NoConnection);
      const fresh = all.filter((w) => !before.some((b) => b.entry.entry_id === w.entry.entry_id));
      all = [...left, ...fresh];
      save(localStorage, all);
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
