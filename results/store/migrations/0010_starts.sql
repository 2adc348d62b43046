-- Migration 10: a run leaves a trace before anything moves.
--
-- A start is committed before the jig is asked to move, and belongs to one
-- process until it has its run. Which starts are still in somebody's hands is
-- not in the file: it is a lock that goes with its holder, see docs/records.md.
-- As before, every table is append-only. hash is the SHA-256 of the row's
-- other columns; docs/records.md says how it is formed.

CREATE TABLE run_start (
  seq         INTEGER PRIMARY KEY,    -- 1, 2, 3 ... without a gap
  id          BLOB    NOT NULL UNIQUE CHECK (length(id) = 16),  -- UUIDv7
  serial      TEXT    NOT NULL CHECK (serial <> ''),
  revision    INTEGER NOT NULL REFERENCES revision,
  jig         INTEGER NOT NULL REFERENCES jig,
  station     INTEGER NOT NULL REFERENCES station,
  simulated   INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  actuation   TEXT    NOT NULL,
  operator    TEXT    NOT NULL,
  purpose     TEXT    NOT NULL,       -- empty: production
  return_case INTEGER REFERENCES return_case,  -- NULL: not at the returns desk
  attempt     INTEGER NOT NULL CHECK (attempt >= 1),
  after_run   INTEGER NOT NULL,       -- run.seq of the newest run at that time, 0: none
  started_us  INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE INDEX run_start_serial ON run_start (serial);
CREATE INDEX run_start_case ON run_start (return_case) WHERE return_case IS NOT NULL;

-- Starts that never got their run: their holder was gone before it was stored.
CREATE TABLE run_unfinished (
  seq    INTEGER PRIMARY KEY,         -- 1, 2, 3 ... without a gap
  start  INTEGER NOT NULL UNIQUE REFERENCES run_start,
  at_us  INTEGER NOT NULL,            -- it was found
  hash   BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE TRIGGER run_start_no_update BEFORE UPDATE ON run_start
BEGIN SELECT RAISE(ABORT, 'padjig: run_start is append-only'); END;
CREATE TRIGGER run_start_no_delete BEFORE DELETE ON run_start
BEGIN SELECT RAISE(ABORT, 'padjig: run_start is append-only'); END;
CREATE TRIGGER run_start_no_replace BEFORE INSERT ON run_start
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM run_start)
  OR EXISTS (SELECT 1 FROM run_start WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'padjig: run_start is append-only'); END;

CREATE TRIGGER run_unfinished_no_update BEFORE UPDATE ON run_unfinished
BEGIN SELECT RAISE(ABORT, 'padjig: run_unfinished is append-only'); END;
CREATE TRIGGER run_unfinished_no_delete BEFORE DELETE ON run_unfinished
BEGIN SELECT RAISE(ABORT, 'padjig: run_unfinished is append-only'); END;
CREATE TRIGGER run_unfinished_no_replace BEFORE INSERT ON run_unfinished
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM run_unfinished)
  OR EXISTS (SELECT 1 FROM run_unfinished WHERE start = NEW.start)
BEGIN SELECT RAISE(ABORT, 'padjig: run_unfinished is append-only'); END;
