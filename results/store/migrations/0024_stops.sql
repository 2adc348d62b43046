-- Migration 24: stops, when a line stopped itself, and who let it go on.
--
-- As before, every table is append-only; hash is the SHA-256 of the row's other
-- columns. A stop is written when it is first seen; that it holds follows from the
-- runs, whether it is written or not.

CREATE TABLE stop (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap: the number of the stop
  jig       TEXT    NOT NULL CHECK (jig <> ''),      -- serial number
  product   TEXT    NOT NULL CHECK (product <> ''),  -- code
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  rule      TEXT    NOT NULL CHECK (rule <> ''),
  unit      TEXT    NOT NULL,         -- the one that it holds for; empty: the line
  finding   TEXT    NOT NULL,         -- that is the same; empty: the rule is about none
  key       TEXT    NOT NULL,         -- label; empty: not about one key
  lines     TEXT    NOT NULL,         -- with blanks between
  pins      TEXT    NOT NULL CHECK (json_type(pins) = 'array'),  -- of the tail, whose contact was doubtful
  units     INTEGER NOT NULL,         -- that met it, or reseats of the one; of the yield: that passed
  of        INTEGER NOT NULL,         -- units that the yield is of
  run       INTEGER NOT NULL REFERENCES run,         -- that met it
  after_run INTEGER NOT NULL,         -- run.seq of the newest run when it was written
  boot_id   TEXT    NOT NULL,         -- of the computer, empty if unknown
  mono_ns   INTEGER,                  -- since the start of the computer; NULL: not told
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE INDEX stop_line ON stop (jig, product);

CREATE TABLE stop_lifting (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  stop      INTEGER NOT NULL UNIQUE REFERENCES stop,
  reason    TEXT    NOT NULL CHECK (reason <> ''),   -- a code
  note      TEXT    NOT NULL,
  by        TEXT    NOT NULL CHECK (by <> ''),
  after_run INTEGER NOT NULL,         -- run.seq of the newest run then: the rules count from the next one on
  took_us   INTEGER NOT NULL CHECK (took_us >= 0),   -- since the stop was written
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

-- The rules count from the run behind this one: those before were made without them.
CREATE TABLE stop_beginning (
  seq       INTEGER PRIMARY KEY CHECK (seq = 1),
  after_run INTEGER NOT NULL
) STRICT;
INSERT INTO stop_beginning SELECT 1, coalesce(max(seq), 0) FROM run;

-- The newest runs of production of a jig and a product, however long ago they were.
CREATE INDEX run_line ON run (jig, revision) WHERE start IS NOT NULL AND purpose = '';

CREATE TRIGGER stop_no_update BEFORE UPDATE ON stop
BEGIN SELECT RAISE(ABORT, 'padjig: stop is append-only'); END;
CREATE TRIGGER stop_no_delete BEFORE DELETE ON stop
BEGIN SELECT RAISE(ABORT, 'padjig: stop is append-only'); END;
CREATE TRIGGER stop_no_replace BEFORE INSERT ON stop
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM stop)
BEGIN SELECT RAISE(ABORT, 'padjig: stop is append-only'); END;

CREATE TRIGGER stop_lifting_no_update BEFORE UPDATE ON stop_lifting
BEGIN SELECT RAISE(ABORT, 'padjig: stop_lifting is append-only'); END;
CREATE TRIGGER stop_lifting_no_delete BEFORE DELETE ON stop_lifting
BEGIN SELECT RAISE(ABORT, 'padjig: stop_lifting is append-only'); END;
CREATE TRIGGER stop_lifting_no_replace BEFORE INSERT ON stop_lifting
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM stop_lifting)
  OR EXISTS (SELECT 1 FROM stop_lifting WHERE stop = NEW.stop)
BEGIN SELECT RAISE(ABORT, 'padjig: stop_lifting is append-only'); END;

CREATE TRIGGER stop_beginning_no_update BEFORE UPDATE ON stop_beginning
BEGIN SELECT RAISE(ABORT, 'padjig: stop_beginning is append-only'); END;
CREATE TRIGGER stop_beginning_no_delete BEFORE DELETE ON stop_beginning
BEGIN SELECT RAISE(ABORT, 'padjig: stop_beginning is append-only'); END;
CREATE TRIGGER stop_beginning_no_replace BEFORE INSERT ON stop_beginning
BEGIN SELECT RAISE(ABORT, 'padjig: stop_beginning is append-only'); END;

CREATE VIEW stops AS
SELECT stop.seq AS number, stop.jig, stop.product, stop.simulated, stop.rule, stop.unit, stop.finding, stop.key,
       stop.lines, stop.pins, stop.units, stop.of, stop.run AS run_seq,
       strftime('%Y-%m-%dT%H:%M:%S', stop.at_us / 1000000, 'unixepoch') || printf('.%06dZ', stop.at_us % 1000000) AS at,
       stop_lifting.reason, stop_lifting.note, stop_lifting.by AS lifted_by, took_us / 1e6 AS stopped_s,
       strftime('%Y-%m-%dT%H:%M:%S', stop_lifting.at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', stop_lifting.at_us % 1000000) AS lifted
FROM stop LEFT JOIN stop_lifting ON stop_lifting.stop = stop.seq;
