-- SPDX-License-Identifier: Apache-2.0
-- Schema 4. The play of a wheel's bearings is a reading; a person's repeatability is known for temperatures and masses too;
-- what was kept for a day is found by its day. Why: docs/decisions/0008-papers.md.

ALTER TABLE person ADD COLUMN repeat_sd_degC REAL CHECK (repeat_sd_degC >= 0);
ALTER TABLE person ADD COLUMN repeat_sd_g REAL CHECK (repeat_sd_g >= 0);

-- A condition cannot be altered: the table is made anew with the same rows.
CREATE TABLE reading_anew (
    id TEXT PRIMARY KEY,
    bike_id TEXT NOT NULL REFERENCES bike (id),
    part_id TEXT REFERENCES part (id),
    place TEXT NOT NULL CHECK (place IN ('front', 'rear')),
    what TEXT NOT NULL CHECK (what IN ('pad_thickness', 'plate_thickness', 'rotor_thickness', 'rotor_ridge', 'run_out', 'lever_reach',
        'lever_bite', 'lever_full', 'gap', 'pad_mass', 'caliper_temperature', 'rotor_temperature', 'fluid_age', 'fluid_colour', 'cable_state',
        'bearing_play')),
    day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    recorded_unix_s REAL NOT NULL,
    person_id TEXT NOT NULL REFERENCES person (id),
    instrument_id TEXT REFERENCES instrument (id),
    with_plate INTEGER CHECK (with_plate IN (0, 1)),
    anvil TEXT CHECK (anvil IN ('not_told', 'pointed', 'flat_jaws')),
    word TEXT CHECK (word <> ''),
    note TEXT CHECK (note <> ''),
    CHECK ((what = 'pad_thickness') = (with_plate IS NOT NULL))
) STRICT, WITHOUT ROWID;
INSERT INTO reading_anew SELECT id, bike_id, part_id, place, what, day, recorded_unix_s, person_id, instrument_id, with_plate, anvil, word, note FROM reading;
DROP TABLE reading;
ALTER TABLE reading_anew RENAME TO reading;
CREATE INDEX reading_of_bike ON reading (bike_id, day);

ALTER TABLE answer ADD COLUMN day TEXT CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]');   -- of which it speaks
UPDATE answer SET day = CASE WHEN json_valid(json) THEN
    CASE WHEN json_extract(json, '$.day') GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]' THEN json_extract(json, '$.day') END END WHERE kind = 'forecast/1';
CREATE INDEX answer_of_day ON answer (bike_id, kind, day);
