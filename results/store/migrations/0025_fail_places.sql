-- Migration 25: where units that failed lie.
--
-- A run that owes is one of production that failed, or was aborted after it had found
-- something. It owes that its tag is scanned at a fail place, unless a later run of the
-- unit owes or passed instead. Who owes is never stored: it follows from the runs and
-- from the placements.

CREATE TABLE fail_place (              -- besides the one that every line has
  seq   INTEGER PRIMARY KEY,           -- 1, 2, 3 ... without a gap
  name  TEXT    NOT NULL UNIQUE CHECK (name <> ''),
  by    TEXT    NOT NULL CHECK (by <> ''),
  at_us INTEGER NOT NULL,
  hash  BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE TABLE placement (
  seq       INTEGER PRIMARY KEY,       -- 1, 2, 3 ... without a gap
  run       INTEGER NOT NULL UNIQUE REFERENCES run,  -- whose tag it was
  how       TEXT    NOT NULL CHECK (how IN ('placed', 'lifted')),  -- lifted: somebody decided to go on without
  place     INTEGER REFERENCES fail_place,           -- NULL: the one that every line has, or none
  by        TEXT    NOT NULL CHECK (by <> ''),
  reason    TEXT    NOT NULL,          -- why it was lifted; empty where it was placed
  after_run INTEGER NOT NULL,          -- run.seq of the newest run at that time
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32),
  CHECK ((how = 'lifted') = (reason <> '')),
  CHECK (how = 'placed' OR place IS NULL),
  CHECK (after_run >= run)
) STRICT;

-- Runs of before owe nothing: a line must not stand still because it was brought up to date.
CREATE TABLE fails_owe (
  seq       INTEGER PRIMARY KEY CHECK (seq = 1),
  after_run INTEGER NOT NULL           -- run.seq of the newest run at that time, 0: none
) STRICT;
INSERT INTO fails_owe SELECT 1, coalesce(max(seq), 0) FROM run;

CREATE INDEX run_owing ON run (jig, seq)
  WHERE purpose = '' AND (outcome = 'fail' OR outcome = 'aborted' AND findings > 0);

CREATE TRIGGER fail_place_no_update BEFORE UPDATE ON fail_place
BEGIN SELECT RAISE(ABORT, 'padjig: fail_place is append-only'); END;
CREATE TRIGGER fail_place_no_delete BEFORE DELETE ON fail_place
BEGIN SELECT RAISE(ABORT, 'padjig: fail_place is append-only'); END;
CREATE TRIGGER fail_place_no_replace BEFORE INSERT ON fail_place
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM fail_place)
  OR EXISTS (SELECT 1 FROM fail_place WHERE name = NEW.name)
BEGIN SELECT RAISE(ABORT, 'padjig: fail_place is append-only'); END;

CREATE TRIGGER placement_no_update BEFORE UPDATE ON placement
BEGIN SELECT RAISE(ABORT, 'padjig: placement is append-only'); END;
CREATE TRIGGER placement_no_delete BEFORE DELETE ON placement
BEGIN SELECT RAISE(ABORT, 'padjig: placement is append-only'); END;
CREATE TRIGGER placement_no_replace BEFORE INSERT ON placement
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM placement)
  OR EXISTS (SELECT 1 FROM placement WHERE run = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: placement is append-only'); END;

CREATE TRIGGER placement_of_fail BEFORE INSERT ON placement
WHEN NOT EXISTS (SELECT 1 FROM run WHERE seq = NEW.run AND purpose = ''
                   AND (outcome = 'fail' OR outcome = 'aborted' AND findings > 0))
BEGIN SELECT RAISE(ABORT, 'padjig: only a run that found something is placed'); END;

CREATE TRIGGER fails_owe_no_update BEFORE UPDATE ON fails_owe
BEGIN SELECT RAISE(ABORT, 'padjig: fails_owe is append-only'); END;
CREATE TRIGGER fails_owe_no_delete BEFORE DELETE ON fails_owe
BEGIN SELECT RAISE(ABORT, 'padjig: fails_owe is append-only'); END;
CREATE TRIGGER fails_owe_no_replace BEFORE INSERT ON fails_owe
WHEN EXISTS (SELECT 1 FROM fails_owe)
BEGIN SELECT RAISE(ABORT, 'padjig: fails_owe is append-only'); END;

CREATE VIEW placements AS
SELECT placement.seq, run.seq AS run_seq, run.serial, revision.code AS product, jig.serial AS jig, run.simulated,
       placement.how, iif(placement.how = 'placed', coalesce(fail_place.name, 'fail place'), '') AS place,
       placement.by, placement.reason, placement.after_run,
       strftime('%Y-%m-%dT%H:%M:%S', placement.at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', placement.at_us % 1000000) AS at
FROM placement JOIN run ON run.seq = placement.run JOIN revision ON revision.revision = run.revision
JOIN jig ON jig.jig = run.jig LEFT JOIN fail_place ON fail_place.seq = placement.place;
