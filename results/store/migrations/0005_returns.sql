-- Migration 5: the returns desk, and why a run was made.
--
-- As before, every table is append-only: a correction is a new row, and the
-- newest row of a kind counts. hash is the SHA-256 of the row's other columns;
-- docs/records.md says how it is formed.

CREATE TABLE return_case (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap: the number of the case
  id        BLOB    NOT NULL UNIQUE CHECK (length(id) = 16),  -- UUIDv7
  serial    TEXT    NOT NULL CHECK (serial <> ''),
  product   TEXT    NOT NULL,         -- code
  after_run INTEGER NOT NULL,         -- run.seq of the newest run at that time, 0: none
  by        TEXT    NOT NULL CHECK (by <> ''),
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE INDEX return_case_serial ON return_case (serial);

CREATE TABLE return_intake (
  seq            INTEGER PRIMARY KEY,
  return_case    INTEGER NOT NULL REFERENCES return_case,
  received_us    INTEGER NOT NULL,
  complaint      TEXT    NOT NULL CHECK (complaint <> ''),
  complaint_text TEXT    NOT NULL,
  conditions     TEXT    NOT NULL CHECK (json_type(conditions) = 'array'),  -- what can be seen
  condition_text TEXT    NOT NULL,
  ends_testing   INTEGER NOT NULL CHECK (ends_testing IN (0, 1)),  -- 1: damaged, no electrical test
  customer       TEXT    NOT NULL,
  lot            TEXT    NOT NULL,
  by             TEXT    NOT NULL CHECK (by <> ''),
  at_us          INTEGER NOT NULL,
  hash           BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE INDEX return_intake_case ON return_intake (return_case);

CREATE TABLE return_photo (
  seq          INTEGER PRIMARY KEY,
  return_case  INTEGER NOT NULL REFERENCES return_case,
  sha256       BLOB    NOT NULL CHECK (length(sha256) = 32),  -- the file beside the database is named after it
  bytes        INTEGER NOT NULL CHECK (bytes > 0),
  content_type TEXT    NOT NULL CHECK (content_type GLOB 'image/*'),
  name         TEXT    NOT NULL,      -- of the file it came from
  note         TEXT    NOT NULL,
  by           TEXT    NOT NULL CHECK (by <> ''),
  at_us        INTEGER NOT NULL,
  hash         BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE INDEX return_photo_case ON return_photo (return_case);

CREATE TABLE return_diagnosis (
  seq         INTEGER PRIMARY KEY,
  return_case INTEGER NOT NULL REFERENCES return_case,
  run         INTEGER NOT NULL REFERENCES run,  -- whose readings were explained
  causes      TEXT    NOT NULL CHECK (json_type(causes) = 'array'),
  software    TEXT    NOT NULL,       -- version of padjig
  at_us       INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE INDEX return_diagnosis_case ON return_diagnosis (return_case);

CREATE TABLE return_disposition (
  seq         INTEGER PRIMARY KEY,
  return_case INTEGER NOT NULL REFERENCES return_case,
  disposition TEXT    NOT NULL CHECK (disposition IN
    ('confirmed', 'not reproduced', 'customer damage', 'jig false accept suspected', 'reopened')),
  reason      TEXT    NOT NULL,
  by          TEXT    NOT NULL CHECK (by <> ''),
  at_us       INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE INDEX return_disposition_case ON return_disposition (return_case);

CREATE TABLE rework (
  seq         INTEGER PRIMARY KEY,
  serial      TEXT    NOT NULL CHECK (serial <> ''),
  return_case INTEGER REFERENCES return_case,  -- NULL: not at the returns desk
  after_run   INTEGER NOT NULL,       -- run.seq of the newest run at that time, 0: none
  what        TEXT    NOT NULL CHECK (what <> ''),
  place       TEXT    NOT NULL,       -- key or line; empty: the whole unit
  note        TEXT    NOT NULL,
  by          TEXT    NOT NULL CHECK (by <> ''),
  done_us     INTEGER NOT NULL,
  at_us       INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE INDEX rework_serial ON rework (serial);

-- Runs: why, and for which case. Runs of before were all made for production.

ALTER TABLE run ADD COLUMN purpose TEXT NOT NULL DEFAULT ''
  CHECK (purpose IN ('', 'first press', 'return test', 'exercise'));
ALTER TABLE run ADD COLUMN return_case INTEGER REFERENCES return_case
  CHECK ((purpose = '') = (return_case IS NULL));
ALTER TABLE run ADD COLUMN exercised INTEGER NOT NULL DEFAULT 0;  -- rows of run_exercise

CREATE INDEX run_return_case ON run (return_case) WHERE return_case IS NOT NULL;

CREATE TABLE run_exercise (
  run            INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place          INTEGER NOT NULL,
  key            INTEGER NOT NULL REFERENCES key,
  presses        INTEGER NOT NULL CHECK (presses >= 0),
  misses         INTEGER NOT NULL CHECK (misses >= 0),     -- did not close, or did not stay closed
  high           INTEGER NOT NULL CHECK (high >= 0),       -- closed, for sure beyond the limit
  sticks         INTEGER NOT NULL CHECK (sticks >= 0),     -- did not open when let go
  first_bad      INTEGER NOT NULL CHECK (first_bad BETWEEN 0 AND presses),  -- press, from 1; 0: none
  least_mohm     INTEGER,             -- closed resistance over all presses; NULL: never closed
  least_u_mohm   INTEGER CHECK (least_u_mohm >= 0),
  most_mohm      INTEGER,
  most_u_mohm    INTEGER CHECK (most_u_mohm >= 0),
  make_us        INTEGER NOT NULL CHECK (make_us >= 0),    -- longest bounce
  break_us       INTEGER NOT NULL CHECK (break_us >= 0),
  held_us        INTEGER NOT NULL CHECK (held_us >= 0),    -- held closed and watched
  held_opened    INTEGER NOT NULL CHECK (held_opened >= 0),
  held_longest_us INTEGER NOT NULL CHECK (held_longest_us >= 0),
  held_more      INTEGER NOT NULL CHECK (held_more IN (0, 1)),   -- 1: there were more openings
  flexed_us      INTEGER NOT NULL CHECK (flexed_us >= 0),  -- the same while the tail was moved
  flexed_opened  INTEGER NOT NULL CHECK (flexed_opened >= 0),
  flexed_longest_us INTEGER NOT NULL CHECK (flexed_longest_us >= 0),
  flexed_more    INTEGER NOT NULL CHECK (flexed_more IN (0, 1)),
  PRIMARY KEY (run, place),
  CHECK ((least_mohm IS NULL) = (most_mohm IS NULL))
) STRICT, WITHOUT ROWID;

CREATE TRIGGER run_exercise_no_update BEFORE UPDATE ON run_exercise
BEGIN SELECT RAISE(ABORT, 'padjig: run_exercise is append-only'); END;
CREATE TRIGGER run_exercise_no_delete BEFORE DELETE ON run_exercise
BEGIN SELECT RAISE(ABORT, 'padjig: run_exercise is append-only'); END;
CREATE TRIGGER run_exercise_no_replace BEFORE INSERT ON run_exercise
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_exercise is append-only'); END;

CREATE TRIGGER run_exercise_complete BEFORE INSERT ON run
WHEN NEW.exercised <> (SELECT count(*) FROM run_exercise WHERE run = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a part of the run is missing'); END;

-- The order of a case's stages: intake, first press, return test, exercise. A
-- stage that was aborted or wants a reseat does not open the next one.

CREATE TRIGGER run_case BEFORE INSERT ON run
WHEN NEW.return_case IS NOT NULL
 AND NEW.serial IS NOT (SELECT serial FROM return_case WHERE seq = NEW.return_case)
BEGIN SELECT RAISE(ABORT, 'padjig: the returns case is of another unit'); END;

CREATE TRIGGER run_case_closed BEFORE INSERT ON run
WHEN NEW.return_case IS NOT NULL AND 'reopened' <>
  (SELECT disposition FROM return_disposition WHERE return_case = NEW.return_case ORDER BY seq DESC LIMIT 1)
BEGIN SELECT RAISE(ABORT, 'padjig: the returns case is closed'); END;

CREATE TRIGGER run_case_damaged BEFORE INSERT ON run
WHEN NEW.return_case IS NOT NULL AND 0 IS NOT
  (SELECT ends_testing FROM return_intake WHERE return_case = NEW.return_case ORDER BY seq DESC LIMIT 1)
BEGIN SELECT RAISE(ABORT, 'padjig: visible damage ended electrical testing'); END;

CREATE TRIGGER run_case_once BEFORE INSERT ON run
WHEN NEW.purpose = 'first press' AND EXISTS
  (SELECT 1 FROM run WHERE return_case = NEW.return_case AND purpose = 'first press'
     AND outcome IN ('pass', 'fail', 'incomplete'))
BEGIN SELECT RAISE(ABORT, 'padjig: a second press is no first press'); END;

CREATE TRIGGER run_case_simulated BEFORE INSERT ON run
WHEN EXISTS (SELECT 1 FROM run WHERE return_case = NEW.return_case AND simulated <> NEW.simulated)
BEGIN SELECT RAISE(ABORT, 'padjig: a returns case is on simulated jigs or on real ones, not both'); END;

CREATE TRIGGER run_case_order BEFORE INSERT ON run
WHEN NEW.purpose IN ('return test', 'exercise') AND NOT EXISTS
  (SELECT 1 FROM run WHERE return_case = NEW.return_case AND outcome IN ('pass', 'fail', 'incomplete')
     AND purpose = iif(NEW.purpose = 'exercise', 'return test', 'first press'))
BEGIN SELECT RAISE(ABORT, 'padjig: the stage of the returns case before this one is missing'); END;

CREATE TRIGGER return_case_no_update BEFORE UPDATE ON return_case
BEGIN SELECT RAISE(ABORT, 'padjig: return_case is append-only'); END;
CREATE TRIGGER return_case_no_delete BEFORE DELETE ON return_case
BEGIN SELECT RAISE(ABORT, 'padjig: return_case is append-only'); END;
CREATE TRIGGER return_case_no_replace BEFORE INSERT ON return_case
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_case)
  OR EXISTS (SELECT 1 FROM return_case WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'padjig: return_case is append-only'); END;

CREATE TRIGGER return_intake_no_update BEFORE UPDATE ON return_intake
BEGIN SELECT RAISE(ABORT, 'padjig: return_intake is append-only'); END;
CREATE TRIGGER return_intake_no_delete BEFORE DELETE ON return_intake
BEGIN SELECT RAISE(ABORT, 'padjig: return_intake is append-only'); END;
CREATE TRIGGER return_intake_no_replace BEFORE INSERT ON return_intake
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_intake)
BEGIN SELECT RAISE(ABORT, 'padjig: return_intake is append-only'); END;

CREATE TRIGGER return_photo_no_update BEFORE UPDATE ON return_photo
BEGIN SELECT RAISE(ABORT, 'padjig: return_photo is append-only'); END;
CREATE TRIGGER return_photo_no_delete BEFORE DELETE ON return_photo
BEGIN SELECT RAISE(ABORT, 'padjig: return_photo is append-only'); END;
CREATE TRIGGER return_photo_no_replace BEFORE INSERT ON return_photo
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_photo)
BEGIN SELECT RAISE(ABORT, 'padjig: return_photo is append-only'); END;

CREATE TRIGGER return_diagnosis_no_update BEFORE UPDATE ON return_diagnosis
BEGIN SELECT RAISE(ABORT, 'padjig: return_diagnosis is append-only'); END;
CREATE TRIGGER return_diagnosis_no_delete BEFORE DELETE ON return_diagnosis
BEGIN SELECT RAISE(ABORT, 'padjig: return_diagnosis is append-only'); END;
CREATE TRIGGER return_diagnosis_no_replace BEFORE INSERT ON return_diagnosis
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_diagnosis)
BEGIN SELECT RAISE(ABORT, 'padjig: return_diagnosis is append-only'); END;

CREATE TRIGGER return_disposition_no_update BEFORE UPDATE ON return_disposition
BEGIN SELECT RAISE(ABORT, 'padjig: return_disposition is append-only'); END;
CREATE TRIGGER return_disposition_no_delete BEFORE DELETE ON return_disposition
BEGIN SELECT RAISE(ABORT, 'padjig: return_disposition is append-only'); END;
CREATE TRIGGER return_disposition_no_replace BEFORE INSERT ON return_disposition
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_disposition)
BEGIN SELECT RAISE(ABORT, 'padjig: return_disposition is append-only'); END;

CREATE TRIGGER rework_no_update BEFORE UPDATE ON rework
BEGIN SELECT RAISE(ABORT, 'padjig: rework is append-only'); END;
CREATE TRIGGER rework_no_delete BEFORE DELETE ON rework
BEGIN SELECT RAISE(ABORT, 'padjig: rework is append-only'); END;
CREATE TRIGGER rework_no_replace BEFORE INSERT ON rework
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM rework)
BEGIN SELECT RAISE(ABORT, 'padjig: rework is append-only'); END;

-- Asked before the ones above, so that a replace is called one.

DROP TRIGGER run_no_replace;
CREATE TRIGGER run_no_replace BEFORE INSERT ON run
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM run)
  OR EXISTS (SELECT 1 FROM run WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'padjig: run is append-only'); END;

-- Views.

DROP VIEW runs;
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
       keys, pairs, findings, lower(hex(run.hash)) AS hash,
       purpose, return_case
FROM run JOIN revision USING (revision) JOIN jig USING (jig) JOIN station USING (station);

CREATE VIEW exercises AS
SELECT run.seq, run.serial, run.outcome, run.simulated, run_exercise.place, key.label AS key,
       presses, misses, high, sticks, first_bad,
       least_mohm / 1e3 AS least_ohm, least_u_mohm / 1e3 AS least_u_ohm,
       most_mohm / 1e3 AS most_ohm, most_u_mohm / 1e3 AS most_u_ohm,
       make_us / 1e3 AS make_ms, break_us / 1e3 AS break_ms,
       held_us / 1e6 AS held_seconds, held_opened, held_longest_us / 1e3 AS held_longest_ms, held_more,
       flexed_us / 1e6 AS flexed_seconds, flexed_opened, flexed_longest_us / 1e3 AS flexed_longest_ms, flexed_more
FROM run_exercise JOIN run ON run.seq = run_exercise.run JOIN key USING (key);

CREATE VIEW return_cases AS
SELECT return_case.seq AS number,
       substr(lower(hex(return_case.id)), 1, 8) || '-' || substr(lower(hex(return_case.id)), 9, 4) || '-' ||
       substr(lower(hex(return_case.id)), 13, 4) || '-' || substr(lower(hex(return_case.id)), 17, 4) || '-' ||
       substr(lower(hex(return_case.id)), 21) AS return_case,
       serial, product, complaint, complaint_text, conditions, condition_text, ends_testing, customer, lot,
       strftime('%Y-%m-%dT%H:%M:%S', received_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', received_us % 1000000) AS received,
       return_case.by AS opened_by,
       strftime('%Y-%m-%dT%H:%M:%S', return_case.at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', return_case.at_us % 1000000) AS opened,
       coalesce((SELECT disposition FROM return_disposition WHERE return_disposition.return_case = return_case.seq
                 ORDER BY return_disposition.seq DESC LIMIT 1), 'open') AS disposition,
       (SELECT count(*) FROM return_photo WHERE return_photo.return_case = return_case.seq) AS photos,
       lower(hex(return_case.hash)) AS hash
FROM return_case JOIN return_intake ON return_intake.seq =
  (SELECT max(seq) FROM return_intake WHERE return_intake.return_case = return_case.seq);

CREATE VIEW return_intakes AS
SELECT seq, return_case AS number, strftime('%Y-%m-%dT%H:%M:%S', received_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', received_us % 1000000) AS received,
       complaint, complaint_text, conditions, condition_text, ends_testing, customer, lot, by,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_intake;

CREATE VIEW return_stages AS
SELECT return_case AS number, run.seq, run.serial, purpose AS stage, outcome, findings, simulated,
       (SELECT what || ': ' || location FROM run_finding WHERE run = run.seq AND place = 0) AS worst,
       strftime('%Y-%m-%dT%H:%M:%S', started_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', started_us % 1000000) AS started
FROM run WHERE return_case IS NOT NULL;

CREATE VIEW return_photos AS
SELECT seq, return_case AS number, lower(hex(sha256)) AS sha256,
       substr(lower(hex(sha256)), 1, 2) || '/' || substr(lower(hex(sha256)), 3) AS file,
       bytes, content_type, name, note, by, strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_photo;

CREATE VIEW return_diagnoses AS
SELECT seq, return_case AS number, run, causes, software, strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_diagnosis;

CREATE VIEW return_dispositions AS
SELECT seq, return_case AS number, disposition, reason, by, strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_disposition;

CREATE VIEW reworks AS
SELECT seq, serial, return_case AS number, after_run, what, place, note, by,
       strftime('%Y-%m-%dT%H:%M:%S', done_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', done_us % 1000000) AS done,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM rework;
