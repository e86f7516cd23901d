// SPDX-License-Identifier: Apache-2.0
// The door to the service: a connection that stays silent, and work that goes on while the Wi-Fi is gone.  Layer: web, tests
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { NoConnection, not_there, page_header, run_job, service, type NotThere } from '../../src/service';

const said = (body: unknown) => ({ ok: true, status: 200, text: async () => JSON.stringify(body) });
const id = '11111111-2222-4333-8444-555555555555';
beforeEach(() => {
  vi.useFakeTimers();
  vi.stubGlobal('document', { querySelector: () => null });
  vi.stubGlobal('window', { dispatchEvent: () => true });
});
afterEach(() => {
  vi.useRealTimers();
  vi.unstubAllGlobals();
});

describe('the service', () => {
  it('that stays silent is no connection, and what waits for it ends', async () => {
    vi.stubGlobal('fetch', (_: string, o: RequestInit) => new Promise((_ok, bad) => o.signal?.addEventListener('abort', () => bad(new Error('aborted')))));
    const looked = expect(service.stand()).rejects.toBeInstanceOf(NoConnection);
    await vi.advanceTimersByTimeAsync(30_001);
    await looked;
  });
  it('takes a question and a refusal in a reply that is no error of HTTP', async () => {
    const questions = [{ code: 'lever_place', text: 'Another place?', choices: [{ value: 'again', text: 'again' }, { value: 'keep', text: 'keep' }] }];
    vi.stubGlobal('fetch', async () => said({ asked: questions }));
    await expect(service.undo({})).rejects.toMatchObject({ code: 'question', questions });
    vi.stubGlobal('fetch', async () => said({ not_done: { code: 'bad_input', text: 'expected a day', file: 'a.csv', line: 3 } }));
    await expect(service.undo({})).rejects.toMatchObject({ code: 'bad_input', message: 'a.csv, line 3: expected a day', questions: [] });
    vi.stubGlobal('fetch', async () => ({ ...said({ error: { code: 'forbidden', text: 'no token' } }), ok: false, status: 403 }));
    await expect(service.undo({})).rejects.toMatchObject({ code: 'forbidden', status: 403 });
  });
  it('is asked as by a page, and says where what was looked at is not there', async () => {
    const sent: Record<string, string>[] = [], said_to_window: Event[] = [];
    vi.stubGlobal('window', { dispatchEvent: (e: Event) => said_to_window.push(e) });
    vi.stubGlobal('fetch', async (_: string, o: RequestInit) => {
      sent.push(o.headers as Record<string, string>);
      return { ...said({ error: { code: 'not_found', text: 'there is no bike with this id' } }), ok: false, status: 404 };
    });
    await expect(service.bike(id)).rejects.toMatchObject({ code: 'not_found', status: 404 });
    await expect(service.job(id)).rejects.toMatchObject({ code: 'not_found' });
    await expect(service.hold(id, { by: 'Ada', why: 'noise' })).rejects.toMatchObject({ code: 'not_found' });
    expect(sent.every((h) => h[page_header])).toBe(true);
    expect(said_to_window.map((e) => [e.type, (e as NotThere).id])).toEqual([[not_there, id]]);
  });
  it('finishes a job over a gap in the Wi-Fi', async () => {
    let asked = 0;
    vi.stubGlobal('fetch', async (_: string, o: RequestInit) => {
      if (o.method === 'POST') return said({ id });
      if (++asked <= 3) throw new TypeError('network');
      return said({ id, kind: 'six', state: 'done', share: 1, text: 'done', result: { schema: 'answer/1' }, error: null });
    });
    const result = run_job({ kind: 'six' }, () => undefined);
    await vi.advanceTimersByTimeAsync(10_000);
    expect(await result).toEqual({ schema: 'answer/1' });
    expect(asked).toBe(4);
  });
  it('gives a job up when the Wi-Fi stays away', async () => {
    vi.stubGlobal('fetch', async (_: string, o: RequestInit) => {
      if (o.method === 'POST') return said({ id });
      throw new TypeError('network');
    });
    const ended = expect(run_job({ kind: 'six' }, () => undefined)).rejects.toBeInstanceOf(NoConnection);
    await vi.advanceTimersByTimeAsync(30_000);
    await ended;
  });
});
