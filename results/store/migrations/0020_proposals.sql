-- Migration 20: a release that lets more through needs two people, and an
-- engineering run proves nothing of a unit.
--
-- A release is proposed; what nobody need approve is in force at once. Every new
-- release names its proposal; those of before have none and stay as they are.

CREATE TABLE release_proposal (
  seq         INTEGER PRIMARY KEY,    -- 1, 2, 3 ... without a gap
  code        TEXT    NOT NULL CHECK (code <> ''),       -- of the product
  label       TEXT    NOT NULL,       -- the engineer's name of the revision
  revision    TEXT    NOT NULL CHECK (length(revision) = 64),  -- hash of its meaning
  kind        TEXT    NOT NULL CHECK (kind IN ('release', 'back')),
  source      TEXT    NOT NULL CHECK (source <> ''),     -- the product file, whole
  by          TEXT    NOT NULL CHECK (trim(by) <> ''),
  reason      TEXT    NOT NULL CHECK (length(trim(reason)) >= 8),
  from_serial TEXT    NOT NULL,       -- first unit that may be tested by it; empty: no loosening, every unit
  base        INTEGER NOT NULL,       -- release.seq of the one in force then, 0: none
  against     TEXT    NOT NULL,       -- hash of what it was compared with, empty: of nothing
  loosens     INTEGER NOT NULL CHECK (loosens IN (0, 1)),-- it lets more through, or is a risk
  changes     TEXT    NOT NULL CHECK (json_type(changes) = 'array'),
  trial       TEXT    NOT NULL CHECK (json_type(trial) = 'object'),  -- what it would have done to runs of before
  after_run   INTEGER NOT NULL,       -- run.seq of the newest run then, 0: none
  after_account INTEGER NOT NULL,     -- account_event.seq of the newest one then, 0: none
  at_us       INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32),
  CHECK (loosens = 0 OR from_serial <> '')
) STRICT;

CREATE INDEX release_proposal_code ON release_proposal (code, seq);

CREATE TABLE release_approval (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  proposal  INTEGER NOT NULL UNIQUE REFERENCES release_proposal,
  revision  TEXT    NOT NULL CHECK (length(revision) = 64),  -- hash of what was approved
  by        TEXT    NOT NULL CHECK (trim(by) <> ''),
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

ALTER TABLE release ADD COLUMN proposal INTEGER REFERENCES release_proposal;  -- none: of before

CREATE TRIGGER release_proposal_no_update BEFORE UPDATE ON release_proposal
BEGIN SELECT RAISE(ABORT, 'padjig: release_proposal is append-only'); END;
CREATE TRIGGER release_proposal_no_delete BEFORE DELETE ON release_proposal
BEGIN SELECT RAISE(ABORT, 'padjig: release_proposal is append-only'); END;
CREATE TRIGGER release_proposal_no_replace BEFORE INSERT ON release_proposal
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM release_proposal)
BEGIN SELECT RAISE(ABORT, 'padjig: release_proposal is append-only'); END;

CREATE TRIGGER release_approval_no_update BEFORE UPDATE ON release_approval
BEGIN SELECT RAISE(ABORT, 'padjig: release_approval is append-only'); END;
CREATE TRIGGER release_approval_no_delete BEFORE DELETE ON release_approval
BEGIN SELECT RAISE(ABORT, 'padjig: release_approval is append-only'); END;
CREATE TRIGGER release_approval_no_replace BEFORE INSERT ON release_approval
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM release_approval)
  OR EXISTS (SELECT 1 FROM release_approval WHERE proposal = NEW.proposal)
BEGIN SELECT RAISE(ABORT, 'padjig: release_approval is append-only'); END;

-- Compared is with what is in force, or else with what was tested last.
CREATE TRIGGER release_proposal_base BEFORE INSERT ON release_proposal
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release_proposal) AND (NEW.base IS NOT (SELECT coalesce(max(seq), 0) FROM release WHERE code = NEW.code)
  OR NEW.against IS NOT coalesce(
       (SELECT hash FROM release WHERE code = NEW.code ORDER BY seq DESC LIMIT 1),
       (SELECT revision.hash FROM cell JOIN revision USING (revision)
        WHERE code = NEW.code AND purpose = '' AND runs > 0 ORDER BY simulated, last_run DESC LIMIT 1), ''))
BEGIN SELECT RAISE(ABORT, 'padjig: the proposal is compared with what is not in force'); END;

-- Who approves is somebody else, with an account of quality or engineer that the
-- proposer has not made or opened since.
CREATE TRIGGER release_approval_two BEFORE INSERT ON release_approval
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release_approval) AND (NOT EXISTS (
  SELECT 1 FROM release_proposal AS asked
  WHERE asked.seq = NEW.proposal AND asked.revision = NEW.revision
    AND lower(replace(asked.by, ' ', '')) <> lower(replace(NEW.by, ' ', ''))
    AND (SELECT role FROM account_event WHERE name = NEW.by AND kind IN ('role', 'closed')
         ORDER BY seq DESC LIMIT 1) IN ('quality', 'engineer')
    AND NOT EXISTS (SELECT 1 FROM account_event
                    WHERE name = NEW.by AND by = asked.by AND seq > asked.after_account)))
BEGIN SELECT RAISE(ABORT, 'padjig: a second person of quality or engineer has to approve the proposal'); END;

CREATE TRIGGER release_approval_in_time BEFORE INSERT ON release_approval
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release_approval) AND EXISTS (SELECT 1 FROM release_proposal AS asked WHERE asked.seq = NEW.proposal
  AND (asked.base IS NOT (SELECT coalesce(max(seq), 0) FROM release WHERE code = asked.code)
    OR EXISTS (SELECT 1 FROM release_proposal AS later WHERE later.code = asked.code AND later.seq > asked.seq)))
BEGIN SELECT RAISE(ABORT, 'padjig: something else was proposed or released since'); END;

CREATE TRIGGER release_of_proposal BEFORE INSERT ON release
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release) AND (NOT EXISTS (
  SELECT 1 FROM release_proposal AS asked
  WHERE asked.seq = NEW.proposal AND asked.code = NEW.code AND asked.label = NEW.label AND asked.revision = NEW.hash
    AND asked.kind = NEW.kind AND asked.source = NEW.source AND asked.by = NEW.by AND asked.reason = NEW.reason
    AND asked.base = (SELECT coalesce(max(seq), 0) FROM release WHERE code = NEW.code)
    AND (asked.loosens = 0 OR EXISTS (SELECT 1 FROM release_approval WHERE proposal = asked.seq))))
BEGIN SELECT RAISE(ABORT, 'padjig: the release was not proposed, or not approved by a second person'); END;

-- A run has one purpose more, and one outcome, in the text of the schema as in
-- migrations 8 and 12.
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = replace(replace(replace(sql,
    '''exercise'', ''gauge study''))', '''exercise'', ''gauge study'', ''engineering''))'),
    'CHECK ((purpose IN ('''', ''gauge study'')) = (return_case IS NULL))',
    'CHECK ((purpose IN ('''', ''gauge study'', ''engineering'')) = (return_case IS NULL))'),
    '''aborted'', ''harness good''', '''aborted'', ''harness good'', ''nothing found''')
WHERE type = 'table' AND name = 'run';
PRAGMA writable_schema = RESET;

CREATE TRIGGER run_engineering BEFORE INSERT ON run
WHEN (NEW.purpose = 'engineering') AND NEW.outcome = 'pass' OR NEW.outcome = 'nothing found' AND (
     NEW.purpose <> 'engineering'
  OR NEW.findings > 0)
BEGIN SELECT RAISE(ABORT, 'padjig: an engineering run is no pass'); END;

CREATE TRIGGER reference_check_engineering BEFORE INSERT ON reference_check
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run AND purpose = 'engineering')
BEGIN SELECT RAISE(ABORT, 'padjig: an engineering run is no check of a reference unit'); END;
