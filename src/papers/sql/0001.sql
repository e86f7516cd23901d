-- SPDX-License-Identifier: Apache-2.0
-- Schema 1. Never edited after a release: what changes comes as the next number. Why: docs/decisions/0008-papers.md.
-- Units are in the names. A text that may be missing is null, never empty, so that a CSV holds all there is.

CREATE TABLE person (
    id TEXT PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CHECK (name <> ''),
    hand_size_cm REAL CHECK (hand_size_cm > 0),
    hand_strength_N REAL CHECK (hand_strength_N > 0),
    mass_kg REAL CHECK (mass_kg > 0),
    repeat_sd_mm REAL CHECK (repeat_sd_mm >= 0),
    note TEXT CHECK (note <> '')
) STRICT, WITHOUT ROWID;

CREATE TABLE instrument (
    id TEXT PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CHECK (name <> ''),
    kind TEXT NOT NULL CHECK (kind IN ('caliper', 'micrometer', 'depth_gauge', 'dial', 'feeler', 'ruler', 'scale', 'thermometer', 'eye')),
    anvil TEXT CHECK (anvil IN ('not_told', 'pointed', 'flat_jaws')),
    resolution_mm REAL CHECK (resolution_mm >= 0),
    permitted_error_mm REAL CHECK (permitted_error_mm >= 0),
    resolution_degC REAL CHECK (resolution_degC >= 0),
    permitted_error_degC REAL CHECK (permitted_error_degC >= 0),
    resolution_g REAL CHECK (resolution_g >= 0),
    permitted_error_g REAL CHECK (permitted_error_g >= 0),
    note TEXT CHECK (note <> '')
) STRICT, WITHOUT ROWID;

CREATE TABLE bike (
    id TEXT PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CHECK (name <> ''),
    description_toml TEXT NOT NULL,
    added_day TEXT NOT NULL CHECK (added_day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    retired_day TEXT CHECK (retired_day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    note TEXT CHECK (note <> '')
) STRICT, WITHOUT ROWID;

CREATE TABLE part (
    id TEXT PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CHECK (name <> ''),
    kind TEXT NOT NULL CHECK (kind IN ('wheel', 'rotor', 'pads', 'caliper', 'lever', 'housing', 'other')),
    compound TEXT CHECK (compound IN ('organic', 'semi_metallic', 'sintered')),
    heat_barrier INTEGER CHECK (heat_barrier IN (0, 1)),
    new_thickness_mm REAL CHECK (new_thickness_mm > 0),
    plate_thickness_mm REAL CHECK (plate_thickness_mm > 0),
    plate_measured INTEGER CHECK (plate_measured IN (0, 1)),
    least_thickness_mm REAL CHECK (least_thickness_mm > 0),
    area_mm2 REAL CHECK (area_mm2 > 0),
    diameter_mm REAL CHECK (diameter_mm > 0),
    note TEXT CHECK (note <> '')
) STRICT, WITHOUT ROWID;

CREATE TABLE fitting (
    id TEXT PRIMARY KEY,
    part_id TEXT NOT NULL REFERENCES part (id),
    bike_id TEXT REFERENCES bike (id),
    wheel_id TEXT REFERENCES part (id),
    place TEXT NOT NULL CHECK (place IN ('front', 'rear')),
    from_day TEXT NOT NULL CHECK (from_day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    to_day TEXT CHECK (to_day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]' AND to_day >= from_day),
    CHECK ((bike_id IS NULL) <> (wheel_id IS NULL)),
    CHECK (wheel_id IS NULL OR wheel_id <> part_id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX fitting_in_one_place ON fitting (part_id) WHERE to_day IS NULL;
CREATE INDEX fitting_of_bike ON fitting (bike_id);

CREATE TABLE ride (
    id TEXT PRIMARY KEY CHECK (length(id) = 64),
    bike_id TEXT NOT NULL REFERENCES bike (id),
    kind TEXT NOT NULL CHECK (kind IN ('recorded', 'described')),
    file_name TEXT CHECK (file_name <> ''),
    start_unix_s REAL,
    day TEXT CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    duration_s REAL CHECK (duration_s >= 0),
    distance_m REAL CHECK (distance_m >= 0),
    descent_m REAL CHECK (descent_m >= 0),
    stops_per_km REAL CHECK (stops_per_km >= 0),
    surface TEXT CHECK (surface IN ('dry', 'wet', 'gravel', 'loose')),
    weather TEXT CHECK (weather IN ('dry', 'damp', 'wet', 'gritty')),
    wind_mps REAL,
    air_degC REAL,
    load_kg REAL CHECK (load_kg >= 0),
    note TEXT CHECK (note <> '')
) STRICT, WITHOUT ROWID;
CREATE INDEX ride_of_bike ON ride (bike_id, day);

-- The bytes of a recorded ride, deflated (RFC 1950); id is the SHA-256 of the inflated bytes.
CREATE TABLE ride_file (
    id TEXT PRIMARY KEY REFERENCES ride (id) ON DELETE CASCADE,
    size_bytes INTEGER NOT NULL CHECK (size_bytes >= 0),
    deflated BLOB NOT NULL
) STRICT;

CREATE TABLE reading (
    id TEXT PRIMARY KEY,
    bike_id TEXT NOT NULL REFERENCES bike (id),
    part_id TEXT REFERENCES part (id),
    place TEXT NOT NULL CHECK (place IN ('front', 'rear')),
    what TEXT NOT NULL CHECK (what IN ('pad_thickness', 'plate_thickness', 'rotor_thickness', 'rotor_ridge', 'run_out', 'lever_reach',
        'lever_bite', 'lever_full', 'gap', 'pad_mass', 'caliper_temperature', 'rotor_temperature', 'fluid_age', 'fluid_colour', 'cable_state')),
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
CREATE INDEX reading_of_bike ON reading (bike_id, day);

CREATE TABLE reading_point (
    id TEXT PRIMARY KEY,   -- reading_id/number
    reading_id TEXT NOT NULL REFERENCES reading (id),
    number INTEGER NOT NULL CHECK (number >= 0),
    side TEXT CHECK (side IN ('left', 'right')),
    angle_deg REAL,
    radius_mm REAL CHECK (radius_mm > 0),
    length_mm REAL,
    temperature_degC REAL,
    mass_g REAL CHECK (mass_g >= 0),
    age_months REAL CHECK (age_months >= 0),
    UNIQUE (reading_id, number),
    CHECK ((length_mm IS NOT NULL) + (temperature_degC IS NOT NULL) + (mass_g IS NOT NULL) + (age_months IS NOT NULL) = 1)
) STRICT, WITHOUT ROWID;

CREATE TABLE work (
    id TEXT PRIMARY KEY,
    bike_id TEXT NOT NULL REFERENCES bike (id),
    place TEXT CHECK (place IN ('front', 'rear')),
    kind TEXT NOT NULL CHECK (kind IN ('new_pads', 'bleed', 'true_rotor', 'clean', 'new_cable', 'bolts', 'bed_in', 'other')),
    day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    person_id TEXT NOT NULL REFERENCES person (id),
    note TEXT CHECK (note <> '')
) STRICT, WITHOUT ROWID;

CREATE TABLE incident (
    id TEXT PRIMARY KEY,
    bike_id TEXT NOT NULL REFERENCES bike (id),
    place TEXT CHECK (place IN ('front', 'rear')),
    kind TEXT NOT NULL CHECK (kind IN ('overheat', 'crash', 'wet_grit', 'spray', 'transport')),
    day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    recorded_unix_s REAL NOT NULL,
    person_id TEXT NOT NULL REFERENCES person (id),
    note TEXT CHECK (note <> '')
) STRICT, WITHOUT ROWID;

CREATE TABLE hold (
    id TEXT PRIMARY KEY,
    bike_id TEXT NOT NULL REFERENCES bike (id),
    from_unix_s REAL NOT NULL,
    by TEXT NOT NULL CHECK (by <> ''),
    why TEXT NOT NULL CHECK (why <> ''),
    cleared_unix_s REAL,
    cleared_by TEXT CHECK (cleared_by <> ''),
    cleared_why TEXT CHECK (cleared_why <> ''),
    CHECK ((cleared_unix_s IS NULL) = (cleared_by IS NULL) AND (cleared_by IS NULL) = (cleared_why IS NULL))
) STRICT, WITHOUT ROWID;

CREATE TABLE tick (
    id TEXT PRIMARY KEY,
    check_id TEXT NOT NULL,
    bike_id TEXT NOT NULL REFERENCES bike (id),
    item TEXT NOT NULL CHECK (item IN ('function', 'lever', 'pad_wear', 'gap', 'rotor_straight', 'bolts', 'leaks', 'cable')),
    place TEXT CHECK (place IN ('front', 'rear')),
    outcome TEXT NOT NULL CHECK (outcome IN ('ok', 'fault')),
    day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    recorded_unix_s REAL NOT NULL,
    person_id TEXT NOT NULL REFERENCES person (id),
    note TEXT CHECK (note <> '')
) STRICT, WITHOUT ROWID;
CREATE INDEX tick_of_bike ON tick (bike_id, recorded_unix_s);

-- What can be computed again: no events.
CREATE TABLE answer (
    id TEXT PRIMARY KEY CHECK (length(id) = 64),
    bike_id TEXT REFERENCES bike (id) ON DELETE CASCADE,
    made_unix_s REAL NOT NULL,
    kind TEXT NOT NULL,
    model_versions TEXT CHECK (model_versions <> ''),
    json TEXT NOT NULL
) STRICT;
CREATE INDEX answer_of_bike ON answer (bike_id);

CREATE TABLE dose (
    id TEXT PRIMARY KEY CHECK (length(id) = 64),
    ride_id TEXT NOT NULL REFERENCES ride (id) ON DELETE CASCADE,
    made_unix_s REAL NOT NULL,
    model_versions TEXT CHECK (model_versions <> ''),
    bytes BLOB NOT NULL
) STRICT;
CREATE INDEX dose_of_ride ON dose (ride_id);

-- Behind undo and history. changes: JSON list of {table, id, before, after}, each a row or null. id: hash of all the other
-- columns but number, and of the id before it in its batch.
CREATE TABLE event (
    number INTEGER PRIMARY KEY AUTOINCREMENT,   -- order only; the id is id
    id TEXT NOT NULL UNIQUE CHECK (length(id) = 64),
    batch TEXT NOT NULL,
    at_unix_s REAL NOT NULL,
    by TEXT CHECK (by <> ''),
    verb TEXT NOT NULL,
    text TEXT NOT NULL,
    undoes TEXT,
    changes TEXT NOT NULL
) STRICT;
CREATE INDEX event_of_batch ON event (batch);
CREATE INDEX event_undoes ON event (undoes) WHERE undoes IS NOT NULL;
CREATE TRIGGER event_is_never_altered BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'the history is never altered'); END;
CREATE TRIGGER event_is_never_removed BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'the history is never altered'); END;
