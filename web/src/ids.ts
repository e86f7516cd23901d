// SPDX-License-Identifier: Apache-2.0
// Ids that a page makes for what it enters: UUIDs of version 4 (RFC 9562, 5.4).                            Layer: web
// Not crypto.randomUUID: browsers have it on this machine only, not on a phone that comes in over plain HTTP.

export function new_id(source: Pick<Crypto, 'getRandomValues'> = crypto): string {
  const b = source.getRandomValues(new Uint8Array(16));
  b[6] = (b[6]! & 0x0f) | 0x40;
  b[8] = (b[8]! & 0x3f) | 0x80;
  const hex = [...b].map((x) => x.toString(16).padStart(2, '0')).join('');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}
