-- Migration 3: checks of reference units, and wear of jigs.
--
-- As before, every table is append-only. How often a part was used is not kept
-- beside the runs but counted from them; only what people did and decided is
-- written down here.

CREATE TABLE reference_check (
  seq     INTEGER PRIMARY KEY,        -- 1, 2, 3 ... without a gap
  run     INTEGER NOT NULL UNIQUE REFERENCES run,  -- the run that was judged
  unit    TEXT    NOT NULL CHECK (unit <> ''),     -- serial number of the reference unit
  kind    TEXT    NOT NULL CHECK (kind IN ('good', 'bad')),  -- what the unit is known to be
  good    INTEGER NOT NULL CHECK (good IN (0, 1)),           -- it showed what it must
  why     TEXT    NOT NULL,           -- why not; empty if it did
  CHECK (good = (why = ''))
) STRICT;

CREATE INDEX reference_check_unit ON reference_check (unit, seq);

CREATE TABLE wear_event (
  seq        INTEGER PRIMARY KEY,     -- 1, 2, 3 ... without a gap
  jig        TEXT    NOT NULL CHECK (jig <> ''),   -- serial number
  part       TEXT    NOT NULL CHECK (part = 'nest' OR part GLOB 'actuator [1-9]*'),
  kind       TEXT    NOT NULL CHECK (kind IN ('replaced', 'limits')),
  after_run  INTEGER NOT NULL,        -- run.seq of the newest run at saving, 0: none
  warn       INTEGER CHECK (warn > 0),             -- uses; NULL for a replacement
  block      INTEGER CHECK (block >= warn),
  by         TEXT    NOT NULL CHECK (by <> ''),
  note       TEXT    NOT NULL,
  at_us      INTEGER NOT NULL,
  CHECK ((kind = 'limits') = (warn IS NOT NULL AND block IS NOT NULL))
) STRICT;

CREATE INDEX run_jig ON run (jig, actuation);

CREATE TRIGGER reference_check_no_update BEFORE UPDATE ON reference_check
BEGIN SELECT RAISE(ABORT, 'padjig: reference_check is append-only'); END;
CREATE TRIGGER reference_check_no_delete BEFORE DELETE ON reference_check
BEGIN SELECT RAISE(ABORT, 'padjig: reference_check is append-only'); END;
CREATE TRIGGER reference_check_no_replace BEFORE INSERT ON reference_check
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM reference_check)
  OR EXISTS (SELECT 1 FROM reference_check WHERE run = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: reference_check is append-only'); END;

CREATE TRIGGER wear_event_no_update BEFORE UPDATE ON wear_event
BEGIN SELECT RAISE(ABORT, 'padjig: wear_event is append-only'); END;
CREATE TRIGGER wear_event_no_delete BEFORE DELETE ON wear_event
BEGIN SELECT RAISE(ABORT, 'padjig: wear_event is append-only'); END;
CREATE TRIGGER wear_event_no_replace BEFORE INSERT ON wear_event
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM wear_event)
BEGIN SELECT RAISE(ABORT, 'padjig: wear_event is append-only'); END;

CREATE VIEW reference_checks AS
SELECT reference_check.seq, run.seq AS run_seq, jig.serial AS jig, revision.code AS product, unit, kind,
       reference_check.good, why, simulated,
       strftime('%Y-%m-%dT%H:%M:%S', started_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', started_us % 1000000) AS started
FROM reference_check JOIN run ON run.seq = reference_check.run
JOIN jig USING (jig) JOIN revision USING (revision);

CREATE VIEW wear_events AS
SELECT seq, jig, part, kind, after_run, warn, block, by, note,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM wear_event;
