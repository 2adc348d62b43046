-- Migration 12: a run whose keys were joined electrically and not pressed
-- proves the harness, and never that a unit is good.
--
-- Runs of before say 'pass' there. They stay as they were stored, and their
-- hashes hold; verdict is what a run counts as, and the one place that says so:
-- whatever asks for passes reads it.
ALTER TABLE run ADD COLUMN verdict TEXT
  AS (CASE WHEN outcome = 'pass' AND actuation = 'electrical' THEN 'harness good' ELSE outcome END) VIRTUAL;

-- One outcome more, in the text of the schema, as in migration 8; and the views
-- for people show what a run counts as.
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = replace(sql, '''incomplete'', ''aborted''', '''incomplete'', ''aborted'', ''harness good''')
WHERE type = 'table' AND name = 'run';
UPDATE sqlite_schema SET sql = replace(sql, 'outcome, reason,', 'verdict AS outcome, reason,')
WHERE type = 'view' AND name = 'runs';
UPDATE sqlite_schema SET sql = replace(sql, 'run.outcome,', 'run.verdict AS outcome,')
WHERE type = 'view' AND name IN ('keys', 'exercises', 'findings');
UPDATE sqlite_schema SET sql = replace(sql, 'AS stage, outcome,', 'AS stage, verdict AS outcome,')
WHERE type = 'view' AND name = 'return_stages';
PRAGMA writable_schema = RESET;

CREATE TRIGGER run_electrical BEFORE INSERT ON run
WHEN NEW.actuation = 'electrical' AND (NEW.outcome = 'pass' OR NEW.return_case IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'padjig: without a key pressed a unit has not passed, nor a stage of a returns case been made'); END;

CREATE TRIGGER run_harness BEFORE INSERT ON run
WHEN NEW.outcome = 'harness good' AND (
     NEW.actuation <> 'electrical'
  OR NEW.keys = 0
  OR NEW.findings > 0
  OR EXISTS (SELECT 1 FROM run_key  WHERE run = NEW.seq AND passed IS NOT NULL)
  OR EXISTS (SELECT 1 FROM run_step WHERE run = NEW.seq AND done = 0))
BEGIN SELECT RAISE(ABORT, 'padjig: the run does not support a good harness'); END;

-- A stage of before that pressed no key does not open the next one.
DROP TRIGGER run_case_order;
CREATE TRIGGER run_case_order BEFORE INSERT ON run
WHEN NEW.purpose IN ('return test', 'exercise') AND NOT EXISTS
  (SELECT 1 FROM run WHERE return_case = NEW.return_case AND verdict IN ('pass', 'fail', 'incomplete')
     AND purpose = iif(NEW.purpose = 'exercise', 'return test', 'first press'))
BEGIN SELECT RAISE(ABORT, 'padjig: the stage of the returns case before this one is missing'); END;

-- Sums over the runs in which such runs were counted as judged, or their readings
-- as contact resistances, are counted anew when the store is opened.
DELETE FROM run_cell     WHERE EXISTS (SELECT 1 FROM run WHERE actuation = 'electrical');
DELETE FROM cell_reading WHERE EXISTS (SELECT 1 FROM run WHERE actuation = 'electrical');
DELETE FROM cell_finding WHERE EXISTS (SELECT 1 FROM run WHERE actuation = 'electrical');
DELETE FROM cell         WHERE EXISTS (SELECT 1 FROM run WHERE actuation = 'electrical');
