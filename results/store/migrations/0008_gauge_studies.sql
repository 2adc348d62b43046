-- Migration 8: gauge studies, and runs that were made for one.
--
-- As before, every table is append-only. hash is the SHA-256 of the row's
-- other columns; docs/records.md says how it is formed.

-- A run has one purpose more. SQLite cannot alter a CHECK that has no name; as
-- the change touches nothing that is stored, its text is replaced in the schema,
-- the way SQLite's documentation gives for this ("Making Other Kinds Of Table
-- Schema Changes"), and the tables below make every connection read it anew.
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = replace(replace(sql,
    'CHECK (purpose IN ('''', ''first press'', ''return test'', ''exercise''))',
    'CHECK (purpose IN ('''', ''first press'', ''return test'', ''exercise'', ''gauge study''))'),
    'CHECK ((purpose = '''') = (return_case IS NULL))',
    'CHECK ((purpose IN ('''', ''gauge study'')) = (return_case IS NULL))')
WHERE type = 'table' AND name = 'run';
PRAGMA writable_schema = RESET;

CREATE TABLE gauge_study (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap: the number of the study
  revision  INTEGER NOT NULL REFERENCES revision,
  across    TEXT    NOT NULL CHECK (across IN ('jig', 'operator')),  -- who or what is compared
  parts     TEXT    NOT NULL CHECK (json_type(parts) = 'array'),     -- serial numbers
  appraisers TEXT   NOT NULL CHECK (json_type(appraisers) = 'array'),-- jigs or operators
  repeats   INTEGER NOT NULL CHECK (repeats >= 2),
  plan      TEXT    NOT NULL CHECK (json_type(plan) = 'array'),      -- [part, appraiser, repeat] from 0, in the order drawn
  seed      INTEGER NOT NULL,         -- that the order was drawn with
  note      TEXT    NOT NULL,
  by        TEXT    NOT NULL CHECK (by <> ''),
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE TABLE gauge_reading (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  study     INTEGER NOT NULL REFERENCES gauge_study,
  place     INTEGER NOT NULL CHECK (place >= 0),   -- in the plan, from 0
  run       INTEGER NOT NULL UNIQUE REFERENCES run,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32),
  UNIQUE (study, place)
) STRICT;

CREATE TRIGGER gauge_study_no_update BEFORE UPDATE ON gauge_study
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_study is append-only'); END;
CREATE TRIGGER gauge_study_no_delete BEFORE DELETE ON gauge_study
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_study is append-only'); END;
CREATE TRIGGER gauge_study_no_replace BEFORE INSERT ON gauge_study
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM gauge_study)
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_study is append-only'); END;

CREATE TRIGGER gauge_reading_no_update BEFORE UPDATE ON gauge_reading
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_reading is append-only'); END;
CREATE TRIGGER gauge_reading_no_delete BEFORE DELETE ON gauge_reading
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_reading is append-only'); END;
CREATE TRIGGER gauge_reading_no_replace BEFORE INSERT ON gauge_reading
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM gauge_reading)
  OR EXISTS (SELECT 1 FROM gauge_reading WHERE run = NEW.run OR (study = NEW.study AND place = NEW.place))
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_reading is append-only'); END;
CREATE TRIGGER gauge_reading_of_study BEFORE INSERT ON gauge_reading
WHEN NOT EXISTS
  (SELECT 1 FROM run JOIN gauge_study ON gauge_study.seq = NEW.study JOIN jig USING (jig)
   JOIN revision AS tested ON tested.revision = run.revision
   JOIN revision AS planned ON planned.revision = gauge_study.revision
   WHERE run.seq = NEW.run AND run.purpose = 'gauge study' AND tested.hash = planned.hash
     AND run.outcome IN ('pass', 'fail')
     AND run.serial = parts ->> ('$[' || (plan ->> ('$[' || NEW.place || '][0]')) || ']')
     AND iif(across = 'jig', jig.serial, run.operator)
         = appraisers ->> ('$[' || (plan ->> ('$[' || NEW.place || '][1]')) || ']'))
BEGIN SELECT RAISE(ABORT, 'padjig: the run is not the reading that the study plans at this place'); END;
-- Simulated readings and real ones make no study.
CREATE TRIGGER gauge_reading_one_kind BEFORE INSERT ON gauge_reading
WHEN EXISTS
  (SELECT 1 FROM gauge_reading JOIN run ON run.seq = gauge_reading.run
   WHERE study = NEW.study AND simulated <> (SELECT simulated FROM run WHERE seq = NEW.run))
BEGIN SELECT RAISE(ABORT, 'padjig: a gauge study holds simulated readings or real ones, not both'); END;

CREATE VIEW gauge_studies AS
SELECT gauge_study.seq AS number, code AS product, label AS revision, across, parts, appraisers, repeats,
       json_array_length(plan) AS planned,
       (SELECT count(*) FROM gauge_reading WHERE study = gauge_study.seq) AS measured,
       seed, note, by, strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM gauge_study JOIN revision USING (revision);

CREATE VIEW gauge_readings AS
SELECT gauge_reading.seq, study AS number, place, run.serial AS part,
       iif(across = 'jig', jig.serial, run.operator) AS appraiser,
       plan ->> ('$[' || place || '][2]') + 1 AS repeat, run.seq AS run_seq, outcome, simulated
FROM gauge_reading JOIN gauge_study ON gauge_study.seq = study JOIN run ON run.seq = gauge_reading.run JOIN jig USING (jig);
