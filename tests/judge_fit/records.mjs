// SPDX-License-Identifier: Apache-2.0
// Outside judge of FIT decoding: prints the record messages of FIT files as CSV, decoded by a general-purpose package.
// Usage: node records.mjs FILE...   One table a file, after a line "# FILE"; an empty cell is a value that the package does not give.
// Knows nothing of this project's decoder. Chained sections are cut apart here, by the sizes in their headers: the package
// reads one section only.
import { readFile } from 'node:fs/promises'
import FitParser from 'fit-file-parser'

const columns = ['timestamp', 'position_lat', 'position_long', 'altitude', 'enhanced_altitude', 'distance', 'speed', 'enhanced_speed', 'power', 'temperature', 'cadence']

function sections(bytes) {
  const out = []
  for (let at = 0; at < bytes.length;) {
    const end = at + bytes[at] + bytes.readUInt32LE(at + 4) + 2
    out.push(bytes.subarray(at, end))
    at = end
  }
  return out
}

function cell(value) {
  if (value === undefined || value === null) return ''
  if (value instanceof Date) return String(value.getTime() / 1000)
  if (Array.isArray(value)) return ''
  return String(value)
}

for (const file of process.argv.slice(2)) {
  console.log(`# ${file}`)
  console.log(columns.join(','))
  for (const section of sections(await readFile(file))) {
    const data = await new FitParser({ force: true, mode: 'list' }).parseAsync(section)
    for (const record of data.records ?? []) console.log(columns.map((name) => cell(record[name])).join(','))
  }
}
