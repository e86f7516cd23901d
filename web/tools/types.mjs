// SPDX-License-Identifier: Apache-2.0
// Writes src/wire/generated.d.ts from openapi.json, to which tests hold the service too.                  Layer: web, tools
//   node tools/types.mjs [--same]     --same: fail if the committed file is not what it gives
import { readFileSync, writeFileSync } from 'node:fs';
import openapiTS from 'openapi-typescript';

const file = (name) => new URL(`../${name}`, import.meta.url);
const api = JSON.parse(readFileSync(file('openapi.json'), 'utf8'));
// The generator writes null in an enumeration as an empty string: said as "one of these, or null" instead.
const with_null = (o) => {
  if (Array.isArray(o)) return o.map(with_null);
  if (o === null || typeof o !== 'object') return o;
  if (Array.isArray(o.enum) && o.enum.includes(null)) {
    const { enum: all, ...rest } = o;
    return { ...rest, anyOf: [{ enum: all.filter((v) => v !== null) }, { type: 'null' }] };
  }
  return Object.fromEntries(Object.entries(o).map(([k, v]) => [k, with_null(v)]));
};
const text = '// SPDX-License-Identifier: Apache-2.0\n// Written by tools/types.mjs; not by hand.\n' + (await openapiTS(with_null(api), { version: 3, commentHeader: '' }));
const out = file('src/wire/generated.d.ts');
if (process.argv.includes('--same')) {
  if (readFileSync(out, 'utf8') !== text) {
    console.error('web/src/wire/generated.d.ts is not what web/openapi.json gives: npm run types');
    process.exit(1);
  }
} else {
  writeFileSync(out, text);
}
