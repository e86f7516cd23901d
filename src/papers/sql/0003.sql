-- SPDX-License-Identifier: Apache-2.0
-- Schema 3. Proof stops: what a few stops from a known speed found of the real brake, so that a brake that sinks is seen by
-- its own history. Why: docs/decisions/0008-papers.md.

CREATE TABLE proof_stop (
    id TEXT PRIMARY KEY,
    proof_id TEXT NOT NULL,   -- the same for all stops that were told together
    bike_id TEXT NOT NULL REFERENCES bike (id),
    brakes TEXT NOT NULL CHECK (brakes IN ('both', 'front', 'rear')),
    name TEXT CHECK (name <> ''),
    day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    recorded_unix_s REAL NOT NULL,
    number INTEGER NOT NULL CHECK (number >= 0),   -- order of those told together
    person_id TEXT NOT NULL REFERENCES person (id),
    instrument_id TEXT REFERENCES instrument (id),   -- the spring scale
    ride_id TEXT REFERENCES ride (id),   -- the recording that it was cut out of
    way TEXT CHECK (way IN ('taped', 'paced', 'timed', 'recorded')),   -- how the way was measured; null: not told
    from_mps REAL NOT NULL CHECK (from_mps > 0),
    from_sd_mps REAL CHECK (from_sd_mps > 0),
    distance_m REAL NOT NULL CHECK (distance_m > 0),
    distance_sd_m REAL CHECK (distance_sd_m > 0),
    time_s REAL CHECK (time_s > 0),
    lever_force_N REAL CHECK (lever_force_N > 0),
    lever_place_mm REAL CHECK (lever_place_mm >= 0),   -- the marked place, from the lever's tip
    grade REAL NOT NULL,
    surface TEXT NOT NULL CHECK (surface IN ('dry', 'wet', 'gravel', 'loose')),
    note TEXT CHECK (note <> ''),
    cleared_unix_s REAL,   -- a named person said that this stop counts for nothing
    cleared_by TEXT CHECK (cleared_by <> ''),
    cleared_why TEXT CHECK (cleared_why <> ''),
    CHECK ((cleared_unix_s IS NULL) = (cleared_by IS NULL) AND (cleared_by IS NULL) = (cleared_why IS NULL))
) STRICT, WITHOUT ROWID;
CREATE INDEX proof_stop_of_bike ON proof_stop (bike_id, day);
