-- Migration 17: how often a nest was opened, and when it was seen empty. Between two
-- units on one jig there must have been either.
--
-- As before, every table is append-only. hash is the SHA-256 of the row's
-- other columns; docs/records.md says how it is formed.

-- What the jig counted before the run moved anything, and when all was let go of.
CREATE TABLE nest_count (
  seq      INTEGER PRIMARY KEY,       -- 1, 2, 3 ... without a gap
  start    INTEGER NOT NULL REFERENCES run_start,
  moment   TEXT    NOT NULL CHECK (moment IN ('start', 'end')),
  boot     INTEGER NOT NULL,          -- number that the jig drew when it booted
  openings INTEGER NOT NULL CHECK (openings >= 0),  -- since then
  hash     BLOB    NOT NULL CHECK (length(hash) = 32),
  UNIQUE (start, moment)
) STRICT;

-- Jigs without an interlock: every seat loop was seen open.
CREATE TABLE nest_empty (
  seq         INTEGER PRIMARY KEY,    -- 1, 2, 3 ... without a gap
  jig         TEXT    NOT NULL,       -- its serial number
  simulated   INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  after_start INTEGER NOT NULL,       -- run_start.seq of the newest start at that time, 0: none
  at_us       INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE INDEX nest_empty_jig ON nest_empty (jig, simulated, after_start);
CREATE INDEX run_start_jig ON run_start (jig, simulated);

CREATE TRIGGER nest_count_no_update BEFORE UPDATE ON nest_count
BEGIN SELECT RAISE(ABORT, 'padjig: nest_count is append-only'); END;
CREATE TRIGGER nest_count_no_delete BEFORE DELETE ON nest_count
BEGIN SELECT RAISE(ABORT, 'padjig: nest_count is append-only'); END;
CREATE TRIGGER nest_count_no_replace BEFORE INSERT ON nest_count
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM nest_count)
  OR EXISTS (SELECT 1 FROM nest_count WHERE start = NEW.start AND moment = NEW.moment)
BEGIN SELECT RAISE(ABORT, 'padjig: nest_count is append-only'); END;

CREATE TRIGGER nest_empty_no_update BEFORE UPDATE ON nest_empty
BEGIN SELECT RAISE(ABORT, 'padjig: nest_empty is append-only'); END;
CREATE TRIGGER nest_empty_no_delete BEFORE DELETE ON nest_empty
BEGIN SELECT RAISE(ABORT, 'padjig: nest_empty is append-only'); END;
CREATE TRIGGER nest_empty_no_replace BEFORE INSERT ON nest_empty
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM nest_empty)
BEGIN SELECT RAISE(ABORT, 'padjig: nest_empty is append-only'); END;
