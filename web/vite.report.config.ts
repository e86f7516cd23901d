// SPDX-License-Identifier: Apache-2.0
// The report: dist/report/report.js and report.css, one file each, which the program writes into the HTML.      Layer: web
import { defineConfig } from 'vite';

export default defineConfig({
  build: {
    target: 'es2022', outDir: 'dist/report', emptyOutDir: true, copyPublicDir: false, cssCodeSplit: false,
    assetsInlineLimit: 100_000,   // the font goes into the sheet
    lib: { entry: 'src/report/main.ts', formats: ['iife'], name: 'report', fileName: () => 'report.js', cssFileName: 'report' },
  },
});
