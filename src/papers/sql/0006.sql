-- SPDX-License-Identifier: Apache-2.0
-- Schema 6. A temperature may say when it was read and how: then it belongs to a moment of a ride. Why: docs/decisions/0008-papers.md.

ALTER TABLE reading ADD COLUMN read_unix_s REAL CHECK (read_unix_s IS NULL OR what IN ('caliper_temperature', 'rotor_temperature'));
-- What was set on an infra-red thermometer; null: a probe, a strip, or nobody said.
ALTER TABLE reading ADD COLUMN set_emissivity REAL CHECK (set_emissivity IS NULL OR (set_emissivity >= 0.05 AND set_emissivity <= 1 AND what IN ('caliper_temperature', 'rotor_temperature')));
ALTER TABLE reading ADD COLUMN spot TEXT CHECK (spot IS NULL OR (spot IN ('bare', 'tinted', 'painted') AND what = 'rotor_temperature' AND set_emissivity IS NOT NULL));
