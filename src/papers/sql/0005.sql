-- SPDX-License-Identifier: Apache-2.0
-- Schema 5. The wind of a ride may be told as a weather report has it, speed and direction. Why: docs/decisions/0008-papers.md.

-- Where the wind blows from, clockwise from true north. With it wind_mps is the wind's speed 10 m above open ground, without it
-- the mean head wind along the way, as ever.
ALTER TABLE ride ADD COLUMN wind_from_deg REAL CHECK (wind_from_deg IS NULL OR (wind_from_deg >= 0 AND wind_from_deg < 360 AND wind_mps IS NOT NULL AND wind_mps >= 0));
