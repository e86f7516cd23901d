// SPDX-License-Identifier: Apache-2.0
// The list of pages. To add one: a file beside this and a row here; nothing else changes.                  Layer: web, pages
import type { Component } from 'svelte';

export type PageProps = { params: Record<string, string> };
export type Page = { path: string; title: string; nav?: string; load: () => Promise<{ default: Component<PageProps> }> };

export const pages: Page[] = [
  { path: '/', title: 'The stand', nav: 'the stand', load: () => import('./Stand.svelte') },
  { path: '/weigh', title: 'Weigh up', nav: 'weigh up', load: () => import('./Weigh.svelte') },
  { path: '/six', title: 'Six questions', nav: 'six questions', load: () => import('./Six.svelte') },
  { path: '/explain', title: 'What explains it', nav: 'what explains it', load: () => import('./Explain.svelte') },
  { path: '/add', title: 'Add a bike', load: () => import('./AddBike.svelte') },
  { path: '/bike/:bike', title: 'A bike', load: () => import('./Bike.svelte') },
  { path: '/bike/:bike/reading', title: 'A reading', load: () => import('./Reading.svelte') },
  { path: '/bike/:bike/rows', title: 'Many readings', load: () => import('./Rows.svelte') },
  { path: '/bike/:bike/check', title: 'The check before a ride', load: () => import('./CheckRide.svelte') },
  { path: '/bike/:bike/hold', title: 'Hold back or clear', load: () => import('./Hold.svelte') },
  { path: '/bike/:bike/try', title: 'Try settings', load: () => import('./TrySettings.svelte') },
  { path: '/bike/:bike/stop', title: 'Will it stop', load: () => import('./Stop.svelte') },
  { path: '/bike/:bike/run-out', title: 'How the rotors run', load: () => import('./RotorTurns.svelte') },
  { path: '/bike/:bike/life', title: 'How much riding is left', load: () => import('./Life.svelte') },
  { path: '/bike/:bike/ride/:ride', title: 'A ride', load: () => import('./Ride.svelte') },
];

//! The page for a path and what its colons stand for; null where there is none.
export function page_for(path: string): { page: Page; params: Record<string, string> } | null {
  const parts = path.split('/').filter(Boolean);
  for (const page of pages) {
    const wanted = page.path.split('/').filter(Boolean);
    if (wanted.length !== parts.length) continue;
    const params: Record<string, string> = {};
    if (wanted.every((w, i) => (w.startsWith(':') ? ((params[w.slice(1)] = decodeURIComponent(parts[i] as string)), true) : w === parts[i]))) return { page, params };
  }
  return null;
}

export const link = {
  stand: '#/', weigh: '#/weigh', six: '#/six', add: '#/add', explain: '#/explain',
  bike: (bike: string) => `#/bike/${encodeURIComponent(bike)}`,
  of: (bike: string, what: 'reading' | 'rows' | 'check' | 'hold' | 'try' | 'stop' | 'life' | 'run-out') => `#/bike/${encodeURIComponent(bike)}/${what}`,
  ride: (bike: string, ride: string) => `#/bike/${encodeURIComponent(bike)}/ride/${encodeURIComponent(ride)}`,
};
