-- Migration 6: what the line is doing: lots, shifts, frozen chart limits, and
-- sums over the runs.
--
-- lot_change, shift and baseline are records: append-only, as before. The
-- tables cell, cell_reading, cell_finding and run_cell are sums over the runs,
-- written in the same transaction as the run. They say nothing that the runs
-- do not say, can be counted anew at any time, and padjig records check
-- compares them with a recount.

CREATE TABLE lot_change (
  seq         INTEGER PRIMARY KEY,    -- 1, 2, 3 ... without a gap
  jig         TEXT    NOT NULL CHECK (jig <> ''),      -- serial number
  product     TEXT    NOT NULL CHECK (product <> ''),  -- code
  simulated   INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  membrane    TEXT    NOT NULL,       -- every lot in use after the change; empty: not known
  dome        TEXT    NOT NULL,
  board       TEXT    NOT NULL,
  consumables TEXT    NOT NULL,       -- of the jig: tips, contacts
  after_run   INTEGER NOT NULL,       -- run.seq of the newest run at saving, 0: none
  by          TEXT    NOT NULL CHECK (by <> ''),
  at_us       INTEGER NOT NULL
) STRICT;

CREATE INDEX lot_change_jig ON lot_change (jig, product, simulated, seq);

CREATE TABLE shift (
  shift      INTEGER PRIMARY KEY,
  plan       INTEGER NOT NULL,        -- shifts with one plan number are in force together
  name       TEXT    NOT NULL CHECK (name <> ''),
  begins_min INTEGER NOT NULL CHECK (begins_min BETWEEN 0 AND 1439),  -- minutes after midnight in zone
  ends_min   INTEGER NOT NULL CHECK (ends_min BETWEEN 0 AND 1439),    -- not part of it; may be on the next day
  zone       TEXT    NOT NULL CHECK (zone <> ''),      -- name in the time zone database
  after_run  INTEGER NOT NULL,
  by         TEXT    NOT NULL CHECK (by <> ''),
  reason     TEXT    NOT NULL,
  at_us      INTEGER NOT NULL,
  UNIQUE (plan, name)
) STRICT;

CREATE TABLE baseline (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  subject   TEXT    NOT NULL CHECK (subject <> ''),    -- what is charted and how, in words
  selection TEXT    NOT NULL,         -- the runs it was computed from, as URL query parameters
  points    INTEGER NOT NULL CHECK (points > 0),
  limits    TEXT    NOT NULL CHECK (json_type(limits) = 'object'),
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  after_run INTEGER NOT NULL,
  by        TEXT    NOT NULL CHECK (by <> ''),
  reason    TEXT    NOT NULL CHECK (reason <> ''),
  at_us     INTEGER NOT NULL
) STRICT;

CREATE INDEX baseline_subject ON baseline (subject, simulated, seq);

-- Sums. A cell holds the runs of one hour, shift, revision, jig, set of lots,
-- operator, way of pressing and purpose; simulated ones apart.

CREATE TABLE cell (
  cell      INTEGER PRIMARY KEY,
  hour      INTEGER NOT NULL,         -- of run.started_us, in hours of UTC since 1970
  shift     INTEGER NOT NULL,         -- shift.shift, 0: none
  revision  INTEGER NOT NULL REFERENCES revision,
  jig       INTEGER NOT NULL REFERENCES jig,
  lots      INTEGER NOT NULL,         -- lot_change.seq, 0: none
  operator  TEXT    NOT NULL,
  actuation TEXT    NOT NULL,
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  purpose   TEXT    NOT NULL,         -- empty: production
  first_run INTEGER NOT NULL DEFAULT 0,                -- run.seq of its first and last run
  last_run  INTEGER NOT NULL DEFAULT 0,
  runs      INTEGER NOT NULL DEFAULT 0,
  reseat    INTEGER NOT NULL DEFAULT 0,                -- runs that ended so
  incomplete INTEGER NOT NULL DEFAULT 0,
  aborted   INTEGER NOT NULL DEFAULT 0,
  units     INTEGER NOT NULL DEFAULT 0,                -- units whose first judged run is here
  first_passed INTEGER NOT NULL DEFAULT 0,             -- of units: the first judged run is a pass
  last_passed  INTEGER NOT NULL DEFAULT 0,             -- of units: the last judged run, wherever, is a pass
  retests   INTEGER NOT NULL DEFAULT 0,                -- judged runs of units judged before
  cures     INTEGER NOT NULL DEFAULT 0,                -- of retests: a pass after a fail
  relapses  INTEGER NOT NULL DEFAULT 0,                -- of retests: a fail after a pass
  UNIQUE (hour, shift, revision, jig, lots, operator, actuation, simulated, purpose)
) STRICT;

CREATE TABLE cell_reading (
  cell   INTEGER PRIMARY KEY REFERENCES cell,
  packed BLOB NOT NULL                -- closed resistance of each key at the first judged runs
) STRICT;

-- A word: what was found and where.
CREATE TABLE fault (
  fault    INTEGER PRIMARY KEY,
  what     TEXT NOT NULL,
  location TEXT NOT NULL,
  key      TEXT NOT NULL,
  lines    TEXT NOT NULL CHECK (json_type(lines) = 'array'),
  pins     TEXT NOT NULL CHECK (json_type(pins) = 'array'),
  UNIQUE (what, location, key, lines, pins)
) STRICT;

CREATE TABLE cell_finding (
  cell  INTEGER NOT NULL REFERENCES cell,
  fault INTEGER NOT NULL REFERENCES fault,
  units INTEGER NOT NULL,             -- first judged runs with this finding
  worst INTEGER NOT NULL,             -- of those: it is the worst finding of the run
  runs  INTEGER NOT NULL,             -- all runs with this finding
  PRIMARY KEY (cell, fault)
) STRICT, WITHOUT ROWID;

CREATE TABLE run_cell (
  run  INTEGER PRIMARY KEY REFERENCES run,
  cell INTEGER NOT NULL REFERENCES cell,
  turn INTEGER NOT NULL               -- 1: first judged run of the unit, 2: second ...; 0: not judged
) STRICT;

-- Guards.

CREATE TRIGGER lot_change_no_update BEFORE UPDATE ON lot_change
BEGIN SELECT RAISE(ABORT, 'padjig: lot_change is append-only'); END;
CREATE TRIGGER lot_change_no_delete BEFORE DELETE ON lot_change
BEGIN SELECT RAISE(ABORT, 'padjig: lot_change is append-only'); END;
CREATE TRIGGER lot_change_no_replace BEFORE INSERT ON lot_change
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM lot_change)
BEGIN SELECT RAISE(ABORT, 'padjig: lot_change is append-only'); END;

CREATE TRIGGER shift_no_update BEFORE UPDATE ON shift
BEGIN SELECT RAISE(ABORT, 'padjig: shift is append-only'); END;
CREATE TRIGGER shift_no_delete BEFORE DELETE ON shift
BEGIN SELECT RAISE(ABORT, 'padjig: shift is append-only'); END;
CREATE TRIGGER shift_no_replace BEFORE INSERT ON shift
WHEN NEW.shift IS NOT (SELECT coalesce(max(shift), 0) + 1 FROM shift)
  OR EXISTS (SELECT 1 FROM shift WHERE plan = NEW.plan AND name = NEW.name)
BEGIN SELECT RAISE(ABORT, 'padjig: shift is append-only'); END;

CREATE TRIGGER baseline_no_update BEFORE UPDATE ON baseline
BEGIN SELECT RAISE(ABORT, 'padjig: baseline is append-only'); END;
CREATE TRIGGER baseline_no_delete BEFORE DELETE ON baseline
BEGIN SELECT RAISE(ABORT, 'padjig: baseline is append-only'); END;
CREATE TRIGGER baseline_no_replace BEFORE INSERT ON baseline
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM baseline)
BEGIN SELECT RAISE(ABORT, 'padjig: baseline is append-only'); END;

CREATE TRIGGER fault_no_update BEFORE UPDATE ON fault
BEGIN SELECT RAISE(ABORT, 'padjig: fault is append-only'); END;
CREATE TRIGGER fault_no_delete BEFORE DELETE ON fault
BEGIN SELECT RAISE(ABORT, 'padjig: fault is append-only'); END;
CREATE TRIGGER fault_no_replace BEFORE INSERT ON fault
WHEN EXISTS (SELECT 1 FROM fault WHERE fault = NEW.fault)
  OR EXISTS (SELECT 1 FROM fault WHERE what = NEW.what AND location = NEW.location AND key = NEW.key
               AND lines = NEW.lines AND pins = NEW.pins)
BEGIN SELECT RAISE(ABORT, 'padjig: fault is append-only'); END;

CREATE VIEW lot_changes AS
SELECT seq, jig, product, simulated, membrane, dome, board, consumables, after_run, by,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM lot_change;

CREATE VIEW line_hours AS
SELECT strftime('%Y-%m-%dT%H:%M:%SZ', hour * 3600, 'unixepoch') AS hour,
       coalesce(shift.name, '') AS shift, revision.code AS product, revision.label AS revision,
       jig.serial AS jig, coalesce(membrane, '') AS membrane, coalesce(dome, '') AS dome,
       coalesce(board, '') AS board, coalesce(consumables, '') AS consumables,
       cell.operator, cell.actuation, cell.simulated, cell.purpose, runs, reseat, incomplete, aborted,
       units, first_passed, last_passed, retests, cures, relapses
FROM cell JOIN revision USING (revision) JOIN jig USING (jig)
LEFT JOIN shift ON shift.shift = cell.shift
LEFT JOIN lot_change ON lot_change.seq = cell.lots;
