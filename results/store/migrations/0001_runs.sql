-- Migration 1: product revisions, and runs with everything they found.
--
-- Every table is append-only. What repeats from run to run (revisions, keys,
-- pins, steps, jigs, stations) is written once and referred to by number; the
-- views at the end put the words back and turn the stored units into ohm, volt,
-- ms and readable times. Read the views; the tables are for the program.
--
-- Stored units, named in the columns: _mohm milliohm, _uv microvolt,
-- _us microseconds (of UTC since 1970 in started_us, saved_us, applied_us),
-- _ns nanoseconds; _u_ is a standard uncertainty. NULL means not measured.

CREATE TABLE migration (
  version    INTEGER PRIMARY KEY,
  name       TEXT    NOT NULL,
  applied_us INTEGER NOT NULL,
  software   TEXT    NOT NULL,
  sqlite     TEXT    NOT NULL
) STRICT;

-- Words: what repeats from run to run.

CREATE TABLE revision (
  revision   INTEGER PRIMARY KEY,
  hash       TEXT NOT NULL,           -- SHA-256 of the product's meaning, hexadecimal
  code       TEXT NOT NULL,
  title      TEXT NOT NULL,
  label      TEXT NOT NULL,           -- the engineer's name of the revision
  definition TEXT NOT NULL CHECK (json_valid(definition)),
  UNIQUE (hash, code, title, label)
) STRICT;

CREATE TABLE key (
  key      INTEGER PRIMARY KEY,
  revision INTEGER NOT NULL REFERENCES revision,
  label    TEXT    NOT NULL,
  line_a   TEXT    NOT NULL,
  line_b   TEXT    NOT NULL,
  UNIQUE (revision, label, line_a, line_b)
) STRICT;

CREATE TABLE pin (
  pin      INTEGER PRIMARY KEY,
  revision INTEGER NOT NULL REFERENCES revision,
  number   INTEGER NOT NULL,          -- tail pin, from 1
  line     TEXT    NOT NULL,          -- empty for an unused pin
  UNIQUE (revision, number, line)
) STRICT;

CREATE TABLE step (
  step INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE jig (
  jig      INTEGER PRIMARY KEY,
  serial   TEXT NOT NULL,
  model    TEXT NOT NULL,
  firmware TEXT NOT NULL,
  adapter  TEXT NOT NULL,
  UNIQUE (serial, model, firmware, adapter)
) STRICT;

CREATE TABLE station (
  station  INTEGER PRIMARY KEY,
  host     TEXT NOT NULL,
  software TEXT NOT NULL,             -- version of padjig
  boot_id  TEXT NOT NULL,             -- changes with each start of the computer; empty if unknown
  UNIQUE (host, software, boot_id)
) STRICT;

-- Runs. The run row is written last in its transaction: when it is there, all
-- of the run is there, and nothing more can be added.

CREATE TABLE run (
  seq          INTEGER PRIMARY KEY,   -- 1, 2, 3 ... without a gap: the order of runs
  id           BLOB    NOT NULL UNIQUE CHECK (length(id) = 16),  -- UUIDv7
  serial       TEXT    NOT NULL CHECK (serial <> ''),
  revision     INTEGER NOT NULL REFERENCES revision,
  jig          INTEGER NOT NULL REFERENCES jig,
  station      INTEGER NOT NULL REFERENCES station,
  simulated    INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  actuation    TEXT    NOT NULL CHECK (actuation IN ('mechanical', 'electrical', 'hand', '')),
  operator     TEXT    NOT NULL,
  attempt      INTEGER NOT NULL CHECK (attempt >= 1),
  started_us   INTEGER NOT NULL,
  duration_us  INTEGER NOT NULL CHECK (duration_us >= 0),
  outcome      TEXT    NOT NULL CHECK (outcome IN ('pass', 'fail', 'reseat', 'incomplete', 'aborted')),
  reason       TEXT    NOT NULL,
  saved_us     INTEGER NOT NULL,
  mono_ns      INTEGER,               -- since the start of the computer, at saving
  clock_synced INTEGER CHECK (clock_synced IN (0, 1)),
  steps        INTEGER NOT NULL,      -- how many rows of each kind belong to the run
  seats        INTEGER NOT NULL,
  keys         INTEGER NOT NULL,
  pairs        INTEGER NOT NULL,
  findings     INTEGER NOT NULL,
  hash         BLOB    NOT NULL CHECK (length(hash) = 32)  -- SHA-256 of the canonical record
) STRICT;

CREATE INDEX run_serial ON run (serial);

CREATE TABLE run_step (
  run     INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place   INTEGER NOT NULL,           -- order in the run, from 0
  step    INTEGER NOT NULL REFERENCES step,
  done    INTEGER NOT NULL CHECK (done IN (0, 1)),
  took_us INTEGER NOT NULL,
  PRIMARY KEY (run, place)
) STRICT, WITHOUT ROWID;

CREATE TABLE run_seat (
  run           INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place         INTEGER NOT NULL,
  pin           INTEGER NOT NULL REFERENCES pin,
  good          INTEGER NOT NULL CHECK (good IN (0, 1)),
  loop_mohm     INTEGER,              -- NULL: open
  loop_u_mohm   INTEGER CHECK (loop_u_mohm >= 0),  -- NULL: unknown
  loop_at_least INTEGER NOT NULL CHECK (loop_at_least IN (0, 1)),
  PRIMARY KEY (run, place),
  CHECK (loop_mohm IS NOT NULL OR loop_at_least = 1)
) STRICT, WITHOUT ROWID;

CREATE TABLE run_key (
  run             INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place           INTEGER NOT NULL,
  key             INTEGER NOT NULL REFERENCES key,
  passed          INTEGER CHECK (passed IN (0, 1)),          -- NULL: untested
  closed_mohm     INTEGER,                                   -- NULL beside closed_at_least 1: open
  closed_u_mohm   INTEGER CHECK (closed_u_mohm >= 0),        -- NULL beside a reading: unknown
  closed_at_least INTEGER CHECK (closed_at_least IN (0, 1)), -- 1: beyond the range; NULL: not measured
  make_us         INTEGER CHECK (make_us >= 0),
  make_count      INTEGER CHECK (make_count >= 0),
  break_us        INTEGER CHECK (break_us >= 0),
  break_count     INTEGER CHECK (break_count >= 0),
  forward_uv      INTEGER,
  forward_u_uv    INTEGER CHECK (forward_u_uv >= 0),
  PRIMARY KEY (run, place),
  CHECK (closed_at_least IS NOT NULL OR (closed_mohm IS NULL AND closed_u_mohm IS NULL)),
  CHECK (closed_mohm IS NOT NULL OR closed_at_least IS NOT 0),
  CHECK ((make_us IS NULL) = (make_count IS NULL)),
  CHECK ((break_us IS NULL) = (break_count IS NULL)),
  CHECK (forward_uv IS NOT NULL OR forward_u_uv IS NULL)
) STRICT, WITHOUT ROWID;

CREATE TABLE run_pair (
  run      INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place    INTEGER NOT NULL,
  line_a   TEXT    NOT NULL,
  line_b   TEXT    NOT NULL,
  held     TEXT    NOT NULL,          -- label of the key held meanwhile; empty: none
  mohm     INTEGER,
  u_mohm   INTEGER CHECK (u_mohm >= 0),
  at_least INTEGER NOT NULL CHECK (at_least IN (0, 1)),
  PRIMARY KEY (run, place),
  CHECK (mohm IS NOT NULL OR at_least = 1)
) STRICT, WITHOUT ROWID;

CREATE TABLE run_finding (
  run        INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place      INTEGER NOT NULL,        -- 0 is the worst
  what       TEXT    NOT NULL,
  location   TEXT    NOT NULL,        -- physical place in words
  key        TEXT    NOT NULL,        -- label; empty: not about one key
  lines      TEXT    NOT NULL CHECK (json_type(lines) = 'array'),
  pins       TEXT    NOT NULL CHECK (json_type(pins) = 'array'),
  value      REAL    CHECK (abs(value) < 1e308),   -- in unit
  value_open INTEGER NOT NULL CHECK (value_open IN (0, 1)),  -- 1: the value is infinite, value is NULL
  u          REAL    CHECK (u < 1e308),            -- standard uncertainty of value
  "limit"    REAL    CHECK (abs("limit") < 1e308),
  unit       TEXT    NOT NULL,
  PRIMARY KEY (run, place),
  CHECK (value IS NULL OR value_open = 0)
) STRICT, WITHOUT ROWID;

-- Guards. They keep our own mistakes out; whoever can write the file can drop
-- them, and that is what run.hash is for.

CREATE TRIGGER migration_no_update BEFORE UPDATE ON migration
BEGIN SELECT RAISE(ABORT, 'padjig: migration is append-only'); END;
CREATE TRIGGER migration_no_delete BEFORE DELETE ON migration
BEGIN SELECT RAISE(ABORT, 'padjig: migration is append-only'); END;
CREATE TRIGGER migration_no_replace BEFORE INSERT ON migration
WHEN EXISTS (SELECT 1 FROM migration WHERE version = NEW.version)
BEGIN SELECT RAISE(ABORT, 'padjig: migration is append-only'); END;

CREATE TRIGGER revision_no_update BEFORE UPDATE ON revision
BEGIN SELECT RAISE(ABORT, 'padjig: revision is append-only'); END;
CREATE TRIGGER revision_no_delete BEFORE DELETE ON revision
BEGIN SELECT RAISE(ABORT, 'padjig: revision is append-only'); END;
CREATE TRIGGER revision_no_replace BEFORE INSERT ON revision
WHEN EXISTS (SELECT 1 FROM revision WHERE revision = NEW.revision)
  OR EXISTS (SELECT 1 FROM revision
             WHERE hash = NEW.hash AND code = NEW.code AND title = NEW.title AND label = NEW.label)
BEGIN SELECT RAISE(ABORT, 'padjig: revision is append-only'); END;

CREATE TRIGGER key_no_update BEFORE UPDATE ON key
BEGIN SELECT RAISE(ABORT, 'padjig: key is append-only'); END;
CREATE TRIGGER key_no_delete BEFORE DELETE ON key
BEGIN SELECT RAISE(ABORT, 'padjig: key is append-only'); END;
CREATE TRIGGER key_no_replace BEFORE INSERT ON key
WHEN EXISTS (SELECT 1 FROM key WHERE key = NEW.key)
  OR EXISTS (SELECT 1 FROM key
             WHERE revision = NEW.revision AND label = NEW.label AND line_a = NEW.line_a AND line_b = NEW.line_b)
BEGIN SELECT RAISE(ABORT, 'padjig: key is append-only'); END;

CREATE TRIGGER pin_no_update BEFORE UPDATE ON pin
BEGIN SELECT RAISE(ABORT, 'padjig: pin is append-only'); END;
CREATE TRIGGER pin_no_delete BEFORE DELETE ON pin
BEGIN SELECT RAISE(ABORT, 'padjig: pin is append-only'); END;
CREATE TRIGGER pin_no_replace BEFORE INSERT ON pin
WHEN EXISTS (SELECT 1 FROM pin WHERE pin = NEW.pin)
  OR EXISTS (SELECT 1 FROM pin
             WHERE revision = NEW.revision AND number = NEW.number AND line = NEW.line)
BEGIN SELECT RAISE(ABORT, 'padjig: pin is append-only'); END;

CREATE TRIGGER step_no_update BEFORE UPDATE ON step
BEGIN SELECT RAISE(ABORT, 'padjig: step is append-only'); END;
CREATE TRIGGER step_no_delete BEFORE DELETE ON step
BEGIN SELECT RAISE(ABORT, 'padjig: step is append-only'); END;
CREATE TRIGGER step_no_replace BEFORE INSERT ON step
WHEN EXISTS (SELECT 1 FROM step WHERE step = NEW.step)
  OR EXISTS (SELECT 1 FROM step WHERE name = NEW.name)
BEGIN SELECT RAISE(ABORT, 'padjig: step is append-only'); END;

CREATE TRIGGER jig_no_update BEFORE UPDATE ON jig
BEGIN SELECT RAISE(ABORT, 'padjig: jig is append-only'); END;
CREATE TRIGGER jig_no_delete BEFORE DELETE ON jig
BEGIN SELECT RAISE(ABORT, 'padjig: jig is append-only'); END;
CREATE TRIGGER jig_no_replace BEFORE INSERT ON jig
WHEN EXISTS (SELECT 1 FROM jig WHERE jig = NEW.jig)
  OR EXISTS (SELECT 1 FROM jig
             WHERE serial = NEW.serial AND model = NEW.model AND firmware = NEW.firmware AND adapter = NEW.adapter)
BEGIN SELECT RAISE(ABORT, 'padjig: jig is append-only'); END;

CREATE TRIGGER station_no_update BEFORE UPDATE ON station
BEGIN SELECT RAISE(ABORT, 'padjig: station is append-only'); END;
CREATE TRIGGER station_no_delete BEFORE DELETE ON station
BEGIN SELECT RAISE(ABORT, 'padjig: station is append-only'); END;
CREATE TRIGGER station_no_replace BEFORE INSERT ON station
WHEN EXISTS (SELECT 1 FROM station WHERE station = NEW.station)
  OR EXISTS (SELECT 1 FROM station
             WHERE host = NEW.host AND software = NEW.software AND boot_id = NEW.boot_id)
BEGIN SELECT RAISE(ABORT, 'padjig: station is append-only'); END;

CREATE TRIGGER run_no_update BEFORE UPDATE ON run
BEGIN SELECT RAISE(ABORT, 'padjig: run is append-only'); END;
CREATE TRIGGER run_no_delete BEFORE DELETE ON run
BEGIN SELECT RAISE(ABORT, 'padjig: run is append-only'); END;

CREATE TRIGGER run_step_no_update BEFORE UPDATE ON run_step
BEGIN SELECT RAISE(ABORT, 'padjig: run_step is append-only'); END;
CREATE TRIGGER run_step_no_delete BEFORE DELETE ON run_step
BEGIN SELECT RAISE(ABORT, 'padjig: run_step is append-only'); END;
CREATE TRIGGER run_step_no_replace BEFORE INSERT ON run_step
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_step is append-only'); END;

CREATE TRIGGER run_seat_no_update BEFORE UPDATE ON run_seat
BEGIN SELECT RAISE(ABORT, 'padjig: run_seat is append-only'); END;
CREATE TRIGGER run_seat_no_delete BEFORE DELETE ON run_seat
BEGIN SELECT RAISE(ABORT, 'padjig: run_seat is append-only'); END;
CREATE TRIGGER run_seat_no_replace BEFORE INSERT ON run_seat
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_seat is append-only'); END;

CREATE TRIGGER run_key_no_update BEFORE UPDATE ON run_key
BEGIN SELECT RAISE(ABORT, 'padjig: run_key is append-only'); END;
CREATE TRIGGER run_key_no_delete BEFORE DELETE ON run_key
BEGIN SELECT RAISE(ABORT, 'padjig: run_key is append-only'); END;
CREATE TRIGGER run_key_no_replace BEFORE INSERT ON run_key
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_key is append-only'); END;

CREATE TRIGGER run_pair_no_update BEFORE UPDATE ON run_pair
BEGIN SELECT RAISE(ABORT, 'padjig: run_pair is append-only'); END;
CREATE TRIGGER run_pair_no_delete BEFORE DELETE ON run_pair
BEGIN SELECT RAISE(ABORT, 'padjig: run_pair is append-only'); END;
CREATE TRIGGER run_pair_no_replace BEFORE INSERT ON run_pair
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_pair is append-only'); END;

CREATE TRIGGER run_finding_no_update BEFORE UPDATE ON run_finding
BEGIN SELECT RAISE(ABORT, 'padjig: run_finding is append-only'); END;
CREATE TRIGGER run_finding_no_delete BEFORE DELETE ON run_finding
BEGIN SELECT RAISE(ABORT, 'padjig: run_finding is append-only'); END;
CREATE TRIGGER run_finding_no_replace BEFORE INSERT ON run_finding
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_finding is append-only'); END;

CREATE TRIGGER run_no_replace BEFORE INSERT ON run
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM run)
  OR EXISTS (SELECT 1 FROM run WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'padjig: run is append-only'); END;

CREATE TRIGGER run_complete BEFORE INSERT ON run
WHEN NEW.steps    <> (SELECT count(*) FROM run_step    WHERE run = NEW.seq)
  OR NEW.seats    <> (SELECT count(*) FROM run_seat    WHERE run = NEW.seq)
  OR NEW.keys     <> (SELECT count(*) FROM run_key     WHERE run = NEW.seq)
  OR NEW.pairs    <> (SELECT count(*) FROM run_pair    WHERE run = NEW.seq)
  OR NEW.findings <> (SELECT count(*) FROM run_finding WHERE run = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a part of the run is missing'); END;

CREATE TRIGGER run_pass BEFORE INSERT ON run
WHEN NEW.outcome = 'pass' AND (
     NEW.keys = 0
  OR NEW.findings > 0
  OR EXISTS (SELECT 1 FROM run_key  WHERE run = NEW.seq AND passed IS NOT 1)
  OR EXISTS (SELECT 1 FROM run_step WHERE run = NEW.seq AND done = 0))
BEGIN SELECT RAISE(ABORT, 'padjig: the run does not support a pass'); END;

-- Views: the words put back, values in ohm, volt, ms, seconds and readable times.

CREATE VIEW runs AS
SELECT run.seq,
       substr(lower(hex(id)), 1, 8) || '-' || substr(lower(hex(id)), 9, 4) || '-' ||
       substr(lower(hex(id)), 13, 4) || '-' || substr(lower(hex(id)), 17, 4) || '-' ||
       substr(lower(hex(id)), 21) AS run,
       run.serial, revision.code AS product, revision.label AS revision, revision.hash AS revision_hash,
       outcome, reason, attempt, simulated, actuation, operator,
       strftime('%Y-%m-%dT%H:%M:%S', started_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', started_us % 1000000) AS started,
       duration_us / 1e6 AS seconds,
       strftime('%Y-%m-%dT%H:%M:%S', saved_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', saved_us % 1000000) AS saved,
       mono_ns / 1e9 AS uptime_seconds, clock_synced, station.boot_id, station.host, station.software,
       jig.serial AS jig, jig.model AS jig_model, jig.firmware AS jig_firmware, jig.adapter AS jig_adapter,
       keys, pairs, findings, lower(hex(run.hash)) AS hash
FROM run JOIN revision USING (revision) JOIN jig USING (jig) JOIN station USING (station);

CREATE VIEW keys AS
SELECT run.seq, run.serial, run.outcome, run.simulated,
       run_key.place, key.label AS key, key.line_a, key.line_b,
       CASE passed WHEN 1 THEN 'pass' WHEN 0 THEN 'fail' ELSE 'untested' END AS verdict,
       closed_mohm / 1e3 AS closed_ohm, closed_u_mohm / 1e3 AS closed_u_ohm, closed_at_least,
       make_us / 1e3 AS make_ms, make_count, break_us / 1e3 AS break_ms, break_count,
       forward_uv / 1e6 AS forward_volt, forward_u_uv / 1e6 AS forward_u_volt
FROM run_key JOIN run ON run.seq = run_key.run JOIN key USING (key);

CREATE VIEW seats AS
SELECT run.seq, run.serial, run_seat.place, pin.number AS pin, pin.line, good,
       loop_mohm / 1e3 AS loop_ohm, loop_u_mohm / 1e3 AS loop_u_ohm, loop_at_least
FROM run_seat JOIN run ON run.seq = run_seat.run JOIN pin USING (pin);

CREATE VIEW steps AS
SELECT run.seq, run.serial, run_step.place, step.name AS step, done, took_us / 1e3 AS took_ms
FROM run_step JOIN run ON run.seq = run_step.run JOIN step USING (step);

CREATE VIEW pairs AS
SELECT run.seq, run.serial, run_pair.place, line_a, line_b, held,
       mohm / 1e3 AS ohm, u_mohm / 1e3 AS u_ohm, at_least
FROM run_pair JOIN run ON run.seq = run_pair.run;

CREATE VIEW findings AS
SELECT run.seq, run.serial, run.outcome, run_finding.place, what, location, key, lines, pins,
       value, value_open, u, "limit", unit
FROM run_finding JOIN run ON run.seq = run_finding.run;
