// SPDX-License-Identifier: Apache-2.0
// Cuts src/assets/inter.woff2 from Debian's fonts-inter-variable: the letters that pages use, weights 400 to 700.   Layer: web, tools
// Run by hand when letters are missing: node tools/font.mjs. The result is committed, so a build needs no font package.
// The font's licences (SIL OFL 1.1, Apache-2.0; no reserved name): src/assets/README.md.
import { readFileSync, writeFileSync } from 'node:fs';
import subsetFont from 'subset-font';

const range = (from, to) => Array.from({ length: to - from + 1 }, (_, i) => String.fromCodePoint(from + i)).join('');
const letters = range(0x20, 0x7e) + range(0xa0, 0x17f) + 'µ–—‘’“”„…•−×÷±≥≤≈°→←↑↓½¼¾²³⁻⁰¹⁴⁵⁶⁷⁸⁹₀₁₂₃Δσρθηµαβ◐○□■▲△◑\u202f\u2009';
const font = readFileSync('/usr/share/fonts/truetype/inter-vf/Inter-roman.var.ttf');
const cut = await subsetFont(font, letters, { targetFormat: 'woff2', variationAxes: { wght: { min: 400, max: 700 } } });
writeFileSync(new URL('../src/assets/inter.woff2', import.meta.url), cut);
console.log(`src/assets/inter.woff2: ${cut.length} bytes`);
