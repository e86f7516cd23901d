// SPDX-License-Identifier: Apache-2.0
// The one door to the service: addresses, token, errors, jobs.                                             Layer: web
import type {
  About, Answer, Bike, Brakes, CheckList, HeldNow, Job, NewJob, ProofEntry, ProofPage, Question, RecordedEntry, RecordedKept, ReadingDone, ReadingEntry, RideAdded, RidePage, RowsAdded, Series, SixAnswers, Stand,
} from './wire';

export class ServiceError extends Error {
  constructor(readonly code: string, text: string, readonly status: number, readonly questions: Question[] = []) {
    super(text);
  }
}
//! Nobody answered: the Wi-Fi is gone, or the program was closed. What was typed can be sent later.
export class NoConnection extends Error {
  constructor() {
    super('No connection to Brakewright. Look at the Wi-Fi, and whether the program still runs.');
  }
}

//! Beyond this machine a browser gives the terminal's code once.
export class NotPaired extends Error {
  constructor() {
    super('This browser is not known yet. Type the code that the terminal shows.');
  }
}

//! Said to the window after each thing written: what is counted anywhere is counted again.
export const papers_changed = 'brakewright-papers-changed';
//! Said to the window where a bike or a ride that was looked at is not in the papers: taken back, or of other papers.
export const not_there = 'brakewright-not-there';
export class NotThere extends Event {
  constructor(readonly id: string) {
    super(not_there);
  }
}
//! Sent with every request: what was not done then comes with status 200, since a browser logs every other one as an error.
export const page_header = 'X-Brakewright-Page';

type Said = { code?: string; text?: string; file?: string; line?: number };
const base = '/api/v1';
const token = (): string => document.querySelector<HTMLMetaElement>('meta[name="brakewright-token"]')?.content ?? '';

const patience_ms = 30_000;   // a look is answered in milliseconds: a connection that stays silent is none

async function ask<T>(method: string, path: string, body?: BodyInit | object): Promise<T> {
  const headers: Record<string, string> = { [page_header]: '1' };
  if (method !== 'GET') headers['X-Brakewright-Token'] = token();
  const raw = body instanceof Blob;
  if (body !== undefined && !raw) headers['Content-Type'] = 'application/json';
  const stop = new AbortController();
  const timer = method === 'GET' ? setTimeout(() => stop.abort(), patience_ms) : undefined;
  let response: Response, text: string;
  try {
    response = await fetch(base + path, { method, headers, body: body === undefined ? undefined : raw ? body : JSON.stringify(body), signal: stop.signal });
    clearTimeout(timer);   // it speaks: what comes may be long
    text = await response.text();
  } catch {
    throw new NoConnection();
  } finally {
    clearTimeout(timer);
  }
  let json: unknown = null;
  try {
    json = text ? JSON.parse(text) : null;
  } catch {
    throw new ServiceError('not_json', `The service sent something that this page cannot read (${response.status}).`, response.status);
  }
  if (response.status === 401) throw new NotPaired();
  const told = json as { error?: Said; not_done?: Said; asked?: Question[] } | null;
  const no = response.ok ? told?.not_done : (told?.error ?? {});
  if (no) {
    const looked_at = method === 'GET' && no.code === 'not_found' ? /^\/(?:bikes|rides)\/([\w-]+)/.exec(path) : null;
    if (looked_at) window.dispatchEvent(new NotThere(looked_at[1]!));
    const where = no.file ? `${no.file}${no.line ? `, line ${no.line}` : ''}: ` : '';
    throw new ServiceError(no.code ?? 'unknown', where + (no.text ?? `The service refused (${response.status}).`), response.status);
  }
  if (told?.asked?.length) throw new ServiceError('question', told.asked[0]!.text, response.status, told.asked);
  if (method !== 'GET' && !path.startsWith('/jobs')) window.dispatchEvent(new Event(papers_changed));
  return json as T;
}

const id = encodeURIComponent;
export const service = {
  pair: (code: string) => ask<null>('POST', '/pair', { code }),
  about: () => ask<About>('GET', '/about'),
  stand: () => ask<Stand>('GET', '/stand'),
  bike: (bike: string) => ask<Bike>('GET', `/bikes/${id(bike)}`),
  answer: (bike: string) => ask<Answer>('GET', `/bikes/${id(bike)}/answer`),
  brakes: (bike: string) => ask<Brakes>('GET', `/bikes/${id(bike)}/brakes`),
  check: (bike: string) => ask<CheckList>('GET', `/bikes/${id(bike)}/check`),
  ride: (ride: string, bike: string) => ask<RidePage>('GET', `/rides/${id(ride)}?bike=${id(bike)}`),
  series: (ride: string, bike: string, points = 2000) => ask<Series>('GET', `/rides/${id(ride)}/series?bike=${id(bike)}&points=${points}`),
  tick: (bike: string, body: { ticks: { code: string; result: 'fine' | 'not_fine' | 'skipped'; note: string }[]; by: string; entry_id: string }) => ask<CheckList>('POST', `/bikes/${id(bike)}/check`, body),
  add_bike: (body: { toml: string; name?: string; by?: string } | { six: SixAnswers; name?: string; by?: string }) => ask<{ id: string }>('POST', '/bikes', body),
  add_ride: (bike: string, file: File) =>
    ask<RideAdded>('POST', `/bikes/${id(bike)}/rides?name=${id(file.name)}`, file),
  add_reading: (bike: string, entry: ReadingEntry) => ask<ReadingDone>('POST', `/bikes/${id(bike)}/readings`, entry),
  add_rows: (bike: string, body: { text: string; by: string; entry_id: string; sure?: boolean }) => ask<RowsAdded>('POST', `/bikes/${id(bike)}/readings/rows`, body),
  proof: (bike: string) => ask<ProofPage>('GET', `/bikes/${id(bike)}/proof`),
  add_proof: (bike: string, entry: ProofEntry) => ask<ProofPage>('POST', `/bikes/${id(bike)}/proof`, entry),
  add_recorded_proof: (bike: string, entry: RecordedEntry) => ask<RecordedKept>('POST', `/bikes/${id(bike)}/proof/recorded`, entry),
  hold: (bike: string, body: { by: string; why: string }) => ask<HeldNow>('POST', `/bikes/${id(bike)}/hold`, body),
  clear: (bike: string, body: { by: string; why: string; what?: 'holds' | 'proof' }) => ask<HeldNow>('POST', `/bikes/${id(bike)}/clear`, body),
  undo: (body: { by?: string; answers?: Record<string, string> }) => ask<{ text: string }>('POST', '/undo', body),
  start_job: (body: NewJob) => ask<{ id: string }>('POST', '/jobs', body),
  job: (job: string) => ask<Job>('GET', `/jobs/${id(job)}`),
  cancel: (job: string) => ask<unknown>('DELETE', `/jobs/${id(job)}`),
};

const most_missed = 20;
//! Runs a job to its end; `told` hears its progress. Aborting the signal cancels it at the service too.
export async function run_job<T>(body: NewJob, told: (job: Job) => void, signal?: AbortSignal): Promise<T> {
  const { id: job_id } = await service.start_job(body);
  let missed = 0;
  for (let wait_ms = 80; ; wait_ms = Math.min(500, wait_ms * 1.3)) {
    if (signal?.aborted) {
      await service.cancel(job_id).catch(() => undefined);
      throw new DOMException('cancelled', 'AbortError');
    }
    let job: Job;
    try {
      job = await service.job(job_id);
      missed = 0;
    } catch (e) {
      if (!(e instanceof NoConnection) || ++missed > most_missed) throw e;   // the work goes on while the Wi-Fi is gone
      await new Promise((go) => setTimeout(go, 1000));
      continue;
    }
    told(job);
    if (job.state === 'done') {
      if (job.result === null || job.result === undefined) throw new ServiceError('no_result', 'The work ended without a result. Try again.', 500);
      return job.result as T;
    }
    if (job.state === 'failed') throw new ServiceError(job.error?.code ?? 'failed', job.error?.text ?? job.text, 200);
    if (job.state === 'cancelled') throw new DOMException('cancelled', 'AbortError');
    await new Promise((go) => setTimeout(go, wait_ms));
  }
}

//! The bike's answer: as computed, or computed now.
export async function answer_of(bike: string, told: (job: Job) => void, signal?: AbortSignal): Promise<Answer> {
  try {
    return await service.answer(bike);
  } catch (e) {
    if (!(e instanceof ServiceError && e.code === 'not_computed')) throw e;
  }
  return run_job<Answer>({ kind: 'answer', bike }, told, signal);
}
