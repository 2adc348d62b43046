-- Migration 9: who took a shift over.

CREATE TABLE handover (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  shift     TEXT    NOT NULL CHECK (shift <> ''),      -- name of the shift that was handed over
  day       TEXT    NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),  -- it began on
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  after_run INTEGER NOT NULL,         -- run.seq of the newest run at signing, 0: none
  by        TEXT    NOT NULL CHECK (by <> ''),         -- incoming lead
  note      TEXT    NOT NULL,
  at_us     INTEGER NOT NULL
) STRICT;

CREATE INDEX handover_shift ON handover (day, shift);

CREATE TRIGGER handover_no_update BEFORE UPDATE ON handover
BEGIN SELECT RAISE(ABORT, 'padjig: handover is append-only'); END;
CREATE TRIGGER handover_no_delete BEFORE DELETE ON handover
BEGIN SELECT RAISE(ABORT, 'padjig: handover is append-only'); END;
CREATE TRIGGER handover_no_replace BEFORE INSERT ON handover
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM handover)
BEGIN SELECT RAISE(ABORT, 'padjig: handover is append-only'); END;
