-- Migration 19: what a run proved, and the insulation that it read.

-- {"proved": [codes], "missing": [{"proof", "of"}], "not_required": [{"proof", "of"}]}; NULL in runs of
-- before, of which it is not known.
ALTER TABLE run ADD COLUMN proofs TEXT CHECK (json_type(proofs) = 'object');
ALTER TABLE run ADD COLUMN insulation INTEGER NOT NULL DEFAULT 0;  -- rows of run_insulation

-- Lines that were fed together against others that were grounded together.
CREATE TABLE line_split (
  line_split INTEGER PRIMARY KEY,
  fed        TEXT NOT NULL CHECK (json_type(fed) = 'array'),       -- ["R1", "R3"]
  grounded   TEXT NOT NULL CHECK (json_type(grounded) = 'array'),
  UNIQUE (fed, grounded)
) STRICT;

CREATE TABLE run_insulation (
  run        INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place      INTEGER NOT NULL,
  step       INTEGER NOT NULL REFERENCES step,
  line_split INTEGER NOT NULL REFERENCES line_split,
  mohm       INTEGER,                              -- NULL: open
  u_mohm     INTEGER CHECK (u_mohm >= 0),          -- NULL: unknown
  at_least   INTEGER NOT NULL CHECK (at_least IN (0, 1)),
  PRIMARY KEY (run, place),
  CHECK (mohm IS NOT NULL OR at_least = 1)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER line_split_no_update BEFORE UPDATE ON line_split
BEGIN SELECT RAISE(ABORT, 'padjig: line_split is append-only'); END;
CREATE TRIGGER line_split_no_delete BEFORE DELETE ON line_split
BEGIN SELECT RAISE(ABORT, 'padjig: line_split is append-only'); END;
CREATE TRIGGER line_split_no_replace BEFORE INSERT ON line_split
WHEN EXISTS (SELECT 1 FROM line_split WHERE line_split = NEW.line_split OR fed = NEW.fed AND grounded = NEW.grounded)
BEGIN SELECT RAISE(ABORT, 'padjig: line_split is append-only'); END;

CREATE TRIGGER run_insulation_no_update BEFORE UPDATE ON run_insulation
BEGIN SELECT RAISE(ABORT, 'padjig: run_insulation is append-only'); END;
CREATE TRIGGER run_insulation_no_delete BEFORE DELETE ON run_insulation
BEGIN SELECT RAISE(ABORT, 'padjig: run_insulation is append-only'); END;
CREATE TRIGGER run_insulation_no_replace BEFORE INSERT ON run_insulation
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_insulation is append-only'); END;

CREATE TRIGGER run_insulation_complete BEFORE INSERT ON run
WHEN NEW.insulation <> (SELECT count(*) FROM run_insulation WHERE run = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a part of the run is missing'); END;

CREATE TRIGGER run_proved BEFORE INSERT ON run
WHEN NEW.outcome = 'pass' AND json_array_length(NEW.proofs, '$.missing') > 0
BEGIN SELECT RAISE(ABORT, 'padjig: the run lacks what a pass has to prove'); END;

-- What each run proved and what it did not, a row each; a run of before has none.
CREATE VIEW proofs AS
SELECT run.seq, run.serial, run.verdict AS outcome, run.simulated,
       CASE one.type WHEN 'object' THEN one.value ->> '$.proof' ELSE one.value END AS proof,
       CASE part.key WHEN 'not_required' THEN 'not required' ELSE part.key END AS state,
       CASE one.type WHEN 'object' THEN one.value -> '$.of' END AS of
FROM run, json_each(run.proofs) AS part, json_each(part.value) AS one;

CREATE VIEW insulation AS
SELECT run.seq, run.serial, run.simulated, jig.serial AS jig,
       strftime('%Y-%m-%dT%H:%M:%S', run.started_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', run.started_us % 1000000) AS started,
       run_insulation.place + 1 AS place, step.name AS step, fed, grounded,
       mohm / 1e3 AS ohm, u_mohm / 1e3 AS u_ohm, at_least
FROM run_insulation JOIN run ON run.seq = run_insulation.run JOIN jig USING (jig)
     JOIN step USING (step) JOIN line_split USING (line_split);
