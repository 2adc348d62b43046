-- Migration 32: commissionings of jigs, and how each of their steps ended.
--
-- As before, every table is append-only; hash is the SHA-256 of the row's other columns. A
-- commissioning is begun once and then gets a row for each step that ended, as it ends: so
-- nothing of it is lost with whatever carried it out. The last row of a step counts. What a
-- jig states of itself stands with it, since another board or firmware has to be commissioned
-- anew.

CREATE TABLE commissioning (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  id        BLOB    NOT NULL UNIQUE CHECK (length(id) = 16),  -- UUIDv7
  jig       TEXT    NOT NULL CHECK (jig <> ''),      -- serial number
  model     TEXT    NOT NULL,         -- which board it is, as the next as the jig states it
  firmware  TEXT    NOT NULL,
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  states    TEXT    NOT NULL CHECK (json_type(states) = 'object'),  -- what its identity says of how it measures and moves
  software  TEXT    NOT NULL,         -- version of padjig, as the next two of the computer
  host      TEXT    NOT NULL,
  boot_id   TEXT    NOT NULL,
  after_run INTEGER NOT NULL,         -- run.seq of the newest run then, 0: none
  by        TEXT    NOT NULL,         -- who began it
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE INDEX commissioning_jig ON commissioning (jig, simulated);

CREATE TABLE commissioning_step (
  seq           INTEGER PRIMARY KEY,  -- 1, 2, 3 ... without a gap
  commissioning INTEGER NOT NULL REFERENCES commissioning,
  step          TEXT    NOT NULL CHECK (step <> ''),  -- code
  outcome       TEXT    NOT NULL CHECK (outcome IN ('pass', 'fail', 'not done')),
  why           TEXT    NOT NULL CHECK (why = '' OR json_type(why) = 'array'),  -- code and arguments; empty: the figures say it
  figures       TEXT    NOT NULL CHECK (json_type(figures) = 'array'),
  by            TEXT    NOT NULL,     -- who did it
  at_us         INTEGER NOT NULL,
  hash          BLOB    NOT NULL CHECK (length(hash) = 32),
  CHECK (outcome <> 'pass' OR why = '' AND json_array_length(figures) > 0),
  CHECK (outcome = 'pass' OR why <> '' OR json_array_length(figures) > 0)
) STRICT;

CREATE INDEX commissioning_step_of ON commissioning_step (commissioning);

CREATE TRIGGER commissioning_no_update BEFORE UPDATE ON commissioning
BEGIN SELECT RAISE(ABORT, 'padjig: commissioning is append-only'); END;
CREATE TRIGGER commissioning_no_delete BEFORE DELETE ON commissioning
BEGIN SELECT RAISE(ABORT, 'padjig: commissioning is append-only'); END;
CREATE TRIGGER commissioning_no_replace BEFORE INSERT ON commissioning
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM commissioning)
  OR EXISTS (SELECT 1 FROM commissioning WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'padjig: commissioning is append-only'); END;

CREATE TRIGGER commissioning_step_no_update BEFORE UPDATE ON commissioning_step
BEGIN SELECT RAISE(ABORT, 'padjig: commissioning_step is append-only'); END;
CREATE TRIGGER commissioning_step_no_delete BEFORE DELETE ON commissioning_step
BEGIN SELECT RAISE(ABORT, 'padjig: commissioning_step is append-only'); END;
CREATE TRIGGER commissioning_step_no_replace BEFORE INSERT ON commissioning_step
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM commissioning_step)
BEGIN SELECT RAISE(ABORT, 'padjig: commissioning_step is append-only'); END;

-- A step passes with good figures only, and belongs to the newest commissioning of its jig: once
-- another one was begun, nothing comes to the old one.
CREATE TRIGGER commissioning_step_good BEFORE INSERT ON commissioning_step
WHEN NEW.outcome = 'pass'
 AND EXISTS (SELECT 1 FROM json_each(NEW.figures) WHERE coalesce(value ->> '$.good', 0) <> 1)
BEGIN SELECT RAISE(ABORT, 'padjig: the figures do not support a pass'); END;
CREATE TRIGGER commissioning_step_newest BEFORE INSERT ON commissioning_step
WHEN EXISTS (SELECT 1 FROM commissioning AS own JOIN commissioning AS later USING (jig, simulated)
             WHERE own.seq = NEW.commissioning AND later.seq > own.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a newer commissioning of this jig was begun'); END;

CREATE VIEW commissionings AS
SELECT commissioning.seq, commissioning.jig, model, firmware, simulated, commissioning.by,
       strftime('%Y-%m-%dT%H:%M:%S', commissioning.at_us / 1000000, 'unixepoch') || printf('.%06dZ', commissioning.at_us % 1000000) AS at,
       step, outcome, why, figures, commissioning_step.by AS step_by,
       strftime('%Y-%m-%dT%H:%M:%S', commissioning_step.at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', commissioning_step.at_us % 1000000) AS step_at
FROM commissioning LEFT JOIN commissioning_step ON commissioning_step.commissioning = commissioning.seq;
