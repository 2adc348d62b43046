-- A store of version 3, written by the padjig of that time: one unit that failed, one that passed.
PRAGMA application_id = 0x7061646A;
PRAGMA user_version = 3;
PRAGMA foreign_keys=OFF;
BEGIN TRANSACTION;
CREATE TABLE migration (
  version    INTEGER PRIMARY KEY,
  name       TEXT    NOT NULL,
  applied_us INTEGER NOT NULL,
  software   TEXT    NOT NULL,
  sqlite     TEXT    NOT NULL
) STRICT;
INSERT INTO migration VALUES(1,'0001_runs.sql',1795627811046874,'devel','3.54.1');
INSERT INTO migration VALUES(2,'0002_calibrations.sql',1795627811048290,'devel','3.54.1');
INSERT INTO migration VALUES(3,'0003_references_and_wear.sql',1795627811049059,'devel','3.54.1');
CREATE TABLE revision (
  revision   INTEGER PRIMARY KEY,
  hash       TEXT NOT NULL,           -- SHA-256 of the product's meaning, hexadecimal
  code       TEXT NOT NULL,
  title      TEXT NOT NULL,
  label      TEXT NOT NULL,           -- the engineer's name of the revision
  definition TEXT NOT NULL CHECK (json_valid(definition)),
  UNIQUE (hash, code, title, label)
) STRICT;
INSERT INTO revision VALUES(1,'7c3f622e2fd137ccfcad972e5f9000cdf9925d8b7a2c0de91ce1b6fea8a7d6e0','GH-20','Greenhouse climate controller, 5x4','C','{"code":"GH-20","keys":20}');
CREATE TABLE key (
  key      INTEGER PRIMARY KEY,
  revision INTEGER NOT NULL REFERENCES revision,
  label    TEXT    NOT NULL,
  line_a   TEXT    NOT NULL,
  line_b   TEXT    NOT NULL,
  UNIQUE (revision, label, line_a, line_b)
) STRICT;
INSERT INTO "key" VALUES(1,1,'1','R1','C1');
INSERT INTO "key" VALUES(2,1,'2','R1','C2');
CREATE TABLE pin (
  pin      INTEGER PRIMARY KEY,
  revision INTEGER NOT NULL REFERENCES revision,
  number   INTEGER NOT NULL,          -- tail pin, from 1
  line     TEXT    NOT NULL,          -- empty for an unused pin
  UNIQUE (revision, number, line)
) STRICT;
INSERT INTO pin VALUES(1,1,1,'R1');
INSERT INTO pin VALUES(2,1,2,'');
CREATE TABLE step (
  step INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE
) STRICT;
INSERT INTO step VALUES(1,'seating');
INSERT INTO step VALUES(2,'key 1');
CREATE TABLE jig (
  jig      INTEGER PRIMARY KEY,
  serial   TEXT NOT NULL,
  model    TEXT NOT NULL,
  firmware TEXT NOT NULL,
  adapter  TEXT NOT NULL,
  UNIQUE (serial, model, firmware, adapter)
) STRICT;
INSERT INTO jig VALUES(1,'J-0007','PJ-64','1.4.2','A-20');
CREATE TABLE station (
  station  INTEGER PRIMARY KEY,
  host     TEXT NOT NULL,
  software TEXT NOT NULL,             -- version of padjig
  boot_id  TEXT NOT NULL,             -- changes with each start of the computer; empty if unknown
  UNIQUE (host, software, boot_id)
) STRICT;
INSERT INTO station VALUES(1,'vm','devel','336a62d5-b5fb-4682-bfc8-c83e3941766c');
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
INSERT INTO run VALUES(1,X'01a213c200ea70aeb798b654bac0184a','24-000001',1,1,1,0,'mechanical','Ines',1,1772435704123456,8421337,'fail','',1795627811050462,1497992624144,0,2,2,2,2,3,X'b3b4b4f8d33796cfcf3f93561b57d42ee072e9d91252316b41a8cd5f22a5e1af');
INSERT INTO run VALUES(2,X'01a213c200ec758990cdab363600a41b','24-000002',1,1,1,0,'mechanical','Ines',1,1772435704123456,8421337,'pass','',1795627811052329,1497994490319,0,2,2,2,0,0,X'6a3a9a15df2a1c1cc001e7e32f844fc8d1b330d73ed7414b1bba558b85052b49');
CREATE TABLE run_step (
  run     INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place   INTEGER NOT NULL,           -- order in the run, from 0
  step    INTEGER NOT NULL REFERENCES step,
  done    INTEGER NOT NULL CHECK (done IN (0, 1)),
  took_us INTEGER NOT NULL,
  PRIMARY KEY (run, place)
) STRICT, WITHOUT ROWID;
INSERT INTO run_step VALUES(1,0,1,1,61000);
INSERT INTO run_step VALUES(1,1,2,1,312000);
INSERT INTO run_step VALUES(2,0,1,1,61000);
INSERT INTO run_step VALUES(2,1,2,1,312000);
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
INSERT INTO run_seat VALUES(1,0,1,1,412,30,0);
INSERT INTO run_seat VALUES(1,1,2,0,2000000000,0,1);
INSERT INTO run_seat VALUES(2,0,1,1,412,30,0);
INSERT INTO run_seat VALUES(2,1,2,0,2000000000,0,1);
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
INSERT INTO run_key VALUES(1,0,1,0,NULL,NULL,1,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(1,1,2,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(2,0,1,1,118204,350,0,1250,3,0,0,NULL,NULL);
INSERT INTO run_key VALUES(2,1,2,1,97500,300,0,NULL,NULL,NULL,NULL,612345,1000);
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
INSERT INTO run_pair VALUES(1,0,'R1','R2','',3217,20,0);
INSERT INTO run_pair VALUES(1,1,'C1','C2','2',9500000000000,100000000000,1);
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
INSERT INTO run_finding VALUES(1,0,'key open','key 1 (R1-C1)','1','["R1","C1"]','[1,6]',NULL,1,NULL,200.0,'ohm');
INSERT INTO run_finding VALUES(1,1,'short','lines R1 and R2','','["R1","R2"]','[1,2]',3.2170999999999998486,0,0.020000000000000000416,10000000.0,'ohm');
INSERT INTO run_finding VALUES(1,2,'odd','nowhere','','[]','[]',NULL,0,NULL,NULL,'');
CREATE TABLE calibration (
  seq                INTEGER PRIMARY KEY,   -- 1, 2, 3 ... without a gap: the order of calibrations
  id                 BLOB    NOT NULL UNIQUE CHECK (length(id) = 16),  -- UUIDv7
  kind               TEXT    NOT NULL CHECK (kind IN ('zero', 'verify')),
  jig                INTEGER NOT NULL REFERENCES jig,
  station            INTEGER NOT NULL REFERENCES station,
  simulated          INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  operator           TEXT    NOT NULL,
  after_run          INTEGER NOT NULL,      -- run.seq of the newest run at saving, 0: none
  performed_us       INTEGER NOT NULL,
  interval_us        INTEGER NOT NULL CHECK (interval_us > 0),
  due_us             INTEGER NOT NULL,      -- of the next one of this kind
  box                TEXT    NOT NULL,      -- name of the reference box; empty for a zero
  box_serial         TEXT    NOT NULL,
  certificate        TEXT    NOT NULL,      -- its number
  certificate_due_us INTEGER,               -- NULL for a zero
  good               INTEGER NOT NULL CHECK (good IN (0, 1)),
  reason             TEXT    NOT NULL,      -- why it is not good; empty if it is
  saved_us           INTEGER NOT NULL,
  mono_ns            INTEGER,               -- since the start of the computer, at saving
  clock_synced       INTEGER CHECK (clock_synced IN (0, 1)),
  readings           INTEGER NOT NULL CHECK (readings > 0),
  hash               BLOB    NOT NULL CHECK (length(hash) = 32),  -- SHA-256 of the canonical record
  CHECK (due_us = performed_us + interval_us),
  CHECK ((kind = 'verify') = (certificate_due_us IS NOT NULL)),
  CHECK ((kind = 'verify') = (certificate <> '')),
  CHECK (good = (reason = ''))
) STRICT;
CREATE TABLE calibration_reading (
  calibration     INTEGER NOT NULL REFERENCES calibration DEFERRABLE INITIALLY DEFERRED,
  place           INTEGER NOT NULL,         -- order in the calibration, from 0
  channel         INTEGER NOT NULL CHECK (channel >= 1),  -- as the pin above it, from 1
  mate            INTEGER CHECK (mate >= 1),              -- the other channel; NULL for a zero
  resistor        TEXT    NOT NULL,         -- its name in the box; empty for a zero
  reference_ohm   REAL    NOT NULL CHECK (reference_ohm > 0 AND reference_ohm < 1e308),  -- of the range
  certified_ohm   REAL    CHECK (certified_ohm > 0 AND certified_ohm < 1e308),           -- NULL for a zero
  certified_u_ohm REAL    CHECK (certified_u_ohm >= 0 AND certified_u_ohm < 1e308),
  ohm             REAL    NOT NULL CHECK (abs(ohm) < 1e308),  -- of a zero: in series with the channel
  u_ohm           REAL    NOT NULL CHECK (u_ohm >= 0 AND u_ohm < 1e308),
  deviation_ohm   REAL    NOT NULL CHECK (abs(deviation_ohm) < 1e308),  -- from certified, or from none
  deviation_u_ohm REAL    NOT NULL CHECK (deviation_u_ohm >= 0 AND deviation_u_ohm < 1e308),
  limit_ohm       REAL    NOT NULL CHECK (limit_ohm > 0 AND limit_ohm < 1e308),  -- of the deviation, either way
  good            INTEGER NOT NULL CHECK (good IN (0, 1)),
  PRIMARY KEY (calibration, place),
  CHECK ((mate IS NULL) = (certified_ohm IS NULL)),
  CHECK ((mate IS NULL) = (certified_u_ohm IS NULL)),
  CHECK (mate IS NOT channel),
  CHECK (good = (abs(deviation_ohm) <= limit_ohm))
) STRICT, WITHOUT ROWID;
CREATE TABLE reference_check (
  seq     INTEGER PRIMARY KEY,        -- 1, 2, 3 ... without a gap
  run     INTEGER NOT NULL UNIQUE REFERENCES run,  -- the run that was judged
  unit    TEXT    NOT NULL CHECK (unit <> ''),     -- serial number of the reference unit
  kind    TEXT    NOT NULL CHECK (kind IN ('good', 'bad')),  -- what the unit is known to be
  good    INTEGER NOT NULL CHECK (good IN (0, 1)),           -- it showed what it must
  why     TEXT    NOT NULL,           -- why not; empty if it did
  CHECK (good = (why = ''))
) STRICT;
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
CREATE INDEX run_serial ON run (serial);
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
CREATE INDEX calibration_jig ON calibration (jig, kind);
CREATE TRIGGER calibration_no_update BEFORE UPDATE ON calibration
BEGIN SELECT RAISE(ABORT, 'padjig: calibration is append-only'); END;
CREATE TRIGGER calibration_no_delete BEFORE DELETE ON calibration
BEGIN SELECT RAISE(ABORT, 'padjig: calibration is append-only'); END;
CREATE TRIGGER calibration_reading_no_update BEFORE UPDATE ON calibration_reading
BEGIN SELECT RAISE(ABORT, 'padjig: calibration_reading is append-only'); END;
CREATE TRIGGER calibration_reading_no_delete BEFORE DELETE ON calibration_reading
BEGIN SELECT RAISE(ABORT, 'padjig: calibration_reading is append-only'); END;
CREATE TRIGGER calibration_reading_no_replace BEFORE INSERT ON calibration_reading
WHEN EXISTS (SELECT 1 FROM calibration WHERE seq = NEW.calibration)
BEGIN SELECT RAISE(ABORT, 'padjig: calibration_reading is append-only'); END;
CREATE TRIGGER calibration_no_replace BEFORE INSERT ON calibration
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM calibration)
  OR EXISTS (SELECT 1 FROM calibration WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'padjig: calibration is append-only'); END;
CREATE TRIGGER calibration_complete BEFORE INSERT ON calibration
WHEN NEW.readings <> (SELECT count(*) FROM calibration_reading WHERE calibration = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a part of the calibration is missing'); END;
CREATE TRIGGER calibration_after_run BEFORE INSERT ON calibration
WHEN NEW.after_run IS NOT (SELECT coalesce(max(seq), 0) FROM run)
BEGIN SELECT RAISE(ABORT, 'padjig: the calibration does not follow the newest run'); END;
CREATE TRIGGER calibration_good BEFORE INSERT ON calibration
WHEN NEW.good = 1
 AND EXISTS (SELECT 1 FROM calibration_reading WHERE calibration = NEW.seq AND good = 0)
BEGIN SELECT RAISE(ABORT, 'padjig: the readings do not support a good calibration'); END;
CREATE VIEW calibrations AS
SELECT calibration.seq,
       substr(lower(hex(id)), 1, 8) || '-' || substr(lower(hex(id)), 9, 4) || '-' ||
       substr(lower(hex(id)), 13, 4) || '-' || substr(lower(hex(id)), 17, 4) || '-' ||
       substr(lower(hex(id)), 21) AS calibration,
       kind, jig.serial AS jig, jig.model AS jig_model, jig.firmware AS jig_firmware, jig.adapter AS jig_adapter,
       simulated, operator, after_run,
       strftime('%Y-%m-%dT%H:%M:%S', performed_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', performed_us % 1000000) AS performed,
       interval_us / 86400e6 AS interval_days,
       strftime('%Y-%m-%dT%H:%M:%SZ', due_us / 1000000, 'unixepoch') AS due,
       box, box_serial, certificate,
       strftime('%Y-%m-%dT%H:%M:%SZ', certificate_due_us / 1000000, 'unixepoch') AS certificate_due,
       good, reason,
       strftime('%Y-%m-%dT%H:%M:%S', saved_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', saved_us % 1000000) AS saved,
       mono_ns / 1e9 AS uptime_seconds, clock_synced, station.boot_id, station.host, station.software,
       readings, lower(hex(calibration.hash)) AS hash
FROM calibration JOIN jig USING (jig) JOIN station USING (station);
CREATE VIEW calibration_readings AS
SELECT calibration.seq, kind, jig.serial AS jig, calibration_reading.place, channel, mate, resistor,
       reference_ohm, certified_ohm, certified_u_ohm, ohm, u_ohm, deviation_ohm, deviation_u_ohm, limit_ohm,
       calibration_reading.good
FROM calibration_reading JOIN calibration ON calibration.seq = calibration_reading.calibration JOIN jig USING (jig);
CREATE INDEX reference_check_unit ON reference_check (unit, seq);
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
COMMIT;
