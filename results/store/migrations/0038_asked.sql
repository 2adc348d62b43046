-- Migration 38: what a station went by when it began a run of a unit that other stations may know.
--
-- A station that belongs to a plant asks it, as soon as a unit is scanned, for attempts, passes and open returns cases at
-- other stations, and does not wait for long. answer says what became of that: with anything but 'given' the run rests on what the
-- station itself knew. A station without a plant has no rows here.
--
-- As before, append-only; hash is the SHA-256 of the row's other columns.

CREATE TABLE asked (
  seq      INTEGER PRIMARY KEY,       -- 1, 2, 3 ... without a gap
  start    INTEGER NOT NULL UNIQUE REFERENCES run_start,
  answer   TEXT    NOT NULL CHECK (answer IN ('given', 'late', 'away', 'refused', 'not asked')),
  attempts INTEGER NOT NULL CHECK (attempts >= 0),  -- of other stations, counted in the number of this one
  took_us  INTEGER NOT NULL CHECK (took_us >= 0),   -- from the question to the answer, or until it was not waited for
  hash     BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE TRIGGER asked_no_update BEFORE UPDATE ON asked
BEGIN SELECT RAISE(ABORT, 'padjig: asked is append-only'); END;
CREATE TRIGGER asked_no_delete BEFORE DELETE ON asked
BEGIN SELECT RAISE(ABORT, 'padjig: asked is append-only'); END;
CREATE TRIGGER asked_no_replace BEFORE INSERT ON asked
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM asked)
  OR EXISTS (SELECT 1 FROM asked WHERE start = NEW.start)
BEGIN SELECT RAISE(ABORT, 'padjig: asked is append-only'); END;
