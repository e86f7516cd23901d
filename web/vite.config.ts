// SPDX-License-Identifier: Apache-2.0
// The stand: dist/index.html and its assets. No inline script or style: the service sends a strict policy.     Layer: web
import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vite';

export default defineConfig({
  plugins: [svelte()],
  build: { target: 'es2022', assetsInlineLimit: 0, modulePreload: { polyfill: false }, sourcemap: false },
});
