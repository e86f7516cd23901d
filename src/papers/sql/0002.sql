-- SPDX-License-Identifier: Apache-2.0
-- Schema 2. A rotor brings its maker's limit of run-out; work knows when it was noted, so that a reading of the same day
-- stands before it or after it. Why: docs/decisions/0008-papers.md.

ALTER TABLE part ADD COLUMN run_out_limit_mm REAL CHECK (run_out_limit_mm > 0);
ALTER TABLE work ADD COLUMN recorded_unix_s REAL;   -- null: noted at schema 1, only the day is known
