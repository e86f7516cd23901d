// SPDX-License-Identifier: Apache-2.0
// No style blocks in components: all rules stand in src/sheet.css.                                               Layer: web
import { vitePreprocess } from '@sveltejs/vite-plugin-svelte';

export default { preprocess: vitePreprocess() };
