-- Migration 23: what a returns case needs before it is measured, and how it ends.
--
-- As before, every table is append-only, and hash is the SHA-256 of the row's
-- other columns. Rows of before stay as they are: a disposition of before has no
-- row in return_disposal, a rework of before none in rework_deed.

-- Why a case has no photo.
CREATE TABLE return_no_photo (
  seq         INTEGER PRIMARY KEY,    -- 1, 2, 3 ... without a gap
  return_case INTEGER NOT NULL REFERENCES return_case,
  reason      TEXT    NOT NULL CHECK (reason <> ''),
  by          TEXT    NOT NULL CHECK (by <> ''),
  at_us       INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE INDEX return_no_photo_case ON return_no_photo (return_case);

-- An engineer's decision that a damaged unit is tested all the same. It holds for
-- the damage that was seen up to an intake.
CREATE TABLE return_unlock (
  seq         INTEGER PRIMARY KEY,
  return_case INTEGER NOT NULL REFERENCES return_case,
  intake      INTEGER NOT NULL REFERENCES return_intake,  -- the newest one at that time
  override    INTEGER NOT NULL UNIQUE REFERENCES override,  -- who, why
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE INDEX return_unlock_case ON return_unlock (return_case);

-- What became of the unit when a case was closed: one row a closing disposition.
CREATE TABLE return_disposal (
  seq            INTEGER PRIMARY KEY,
  disposition    INTEGER NOT NULL UNIQUE REFERENCES return_disposition DEFERRABLE INITIALLY DEFERRED,
  disposal       TEXT    NOT NULL CHECK (disposal IN ('scrapped', 'sent back repaired', 'sent back as it is',
                   'replaced', 'kept for analysis', 'back to production')),
  after_run      INTEGER NOT NULL,    -- run.seq of the newest run at that time, 0: none
  contradictions TEXT    NOT NULL CHECK (json_type(contradictions) = 'array'),  -- code, arguments, answer of each
  hash           BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

-- A rework in codes: rework.what and rework.place say the same in words.
CREATE TABLE rework_deed (
  seq     INTEGER PRIMARY KEY,
  rework  INTEGER NOT NULL UNIQUE REFERENCES rework DEFERRABLE INITIALLY DEFERRED,
  deed    TEXT    NOT NULL CHECK (deed <> ''),
  kind    TEXT    NOT NULL CHECK (kind IN ('unit', 'key', 'line', 'pin', 'connector')),  -- of the place
  place   TEXT    NOT NULL,           -- its name in the product; empty: unit, connector
  part    TEXT    NOT NULL,           -- put in; empty: none
  lot     TEXT    NOT NULL CHECK ((part = '') = (lot = '')),
  hash    BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE TRIGGER return_no_photo_no_update BEFORE UPDATE ON return_no_photo
BEGIN SELECT RAISE(ABORT, 'padjig: return_no_photo is append-only'); END;
CREATE TRIGGER return_no_photo_no_delete BEFORE DELETE ON return_no_photo
BEGIN SELECT RAISE(ABORT, 'padjig: return_no_photo is append-only'); END;
CREATE TRIGGER return_no_photo_no_replace BEFORE INSERT ON return_no_photo
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_no_photo)
BEGIN SELECT RAISE(ABORT, 'padjig: return_no_photo is append-only'); END;

CREATE TRIGGER return_unlock_no_update BEFORE UPDATE ON return_unlock
BEGIN SELECT RAISE(ABORT, 'padjig: return_unlock is append-only'); END;
CREATE TRIGGER return_unlock_no_delete BEFORE DELETE ON return_unlock
BEGIN SELECT RAISE(ABORT, 'padjig: return_unlock is append-only'); END;
CREATE TRIGGER return_unlock_no_replace BEFORE INSERT ON return_unlock
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_unlock)
  OR EXISTS (SELECT 1 FROM return_unlock WHERE override = NEW.override)
BEGIN SELECT RAISE(ABORT, 'padjig: return_unlock is append-only'); END;

CREATE TRIGGER return_disposal_no_update BEFORE UPDATE ON return_disposal
BEGIN SELECT RAISE(ABORT, 'padjig: return_disposal is append-only'); END;
CREATE TRIGGER return_disposal_no_delete BEFORE DELETE ON return_disposal
BEGIN SELECT RAISE(ABORT, 'padjig: return_disposal is append-only'); END;
CREATE TRIGGER return_disposal_no_replace BEFORE INSERT ON return_disposal
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_disposal)
  OR NEW.disposition <= (SELECT coalesce(max(seq), 0) FROM return_disposition)
BEGIN SELECT RAISE(ABORT, 'padjig: return_disposal is append-only'); END;

CREATE TRIGGER rework_deed_no_update BEFORE UPDATE ON rework_deed
BEGIN SELECT RAISE(ABORT, 'padjig: rework_deed is append-only'); END;
CREATE TRIGGER rework_deed_no_delete BEFORE DELETE ON rework_deed
BEGIN SELECT RAISE(ABORT, 'padjig: rework_deed is append-only'); END;
CREATE TRIGGER rework_deed_no_replace BEFORE INSERT ON rework_deed
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM rework_deed)
  OR NEW.rework <= (SELECT coalesce(max(seq), 0) FROM rework)
BEGIN SELECT RAISE(ABORT, 'padjig: rework_deed is append-only'); END;

-- An intake says what can be seen, and damage ends testing whoever writes it.

CREATE TRIGGER return_intake_seen BEFORE INSERT ON return_intake
WHEN json_array_length(NEW.conditions) = 0
BEGIN SELECT RAISE(ABORT, 'padjig: the intake does not say what can be seen'); END;

CREATE TRIGGER return_intake_damage BEFORE INSERT ON return_intake
WHEN NEW.ends_testing <> EXISTS
  (SELECT 1 FROM json_each(NEW.conditions) WHERE value IN ('wet', 'burnt', 'tail torn', 'crushed'))
BEGIN SELECT RAISE(ABORT, 'padjig: damage ends electrical testing, and nothing else does'); END;

-- A case whose damage ends testing: by the last intake that names damage, and no
-- decision since. A correction that leaves the damage out takes nothing back.

CREATE VIEW return_locked AS
SELECT return_case FROM return_intake AS damaged
WHERE seq = (SELECT max(seq) FROM return_intake AS seen
             WHERE seen.return_case = damaged.return_case AND (seen.ends_testing = 1 OR EXISTS
               (SELECT 1 FROM json_each(seen.conditions) WHERE value IN ('wet', 'burnt', 'tail torn', 'crushed'))))
  AND ends_testing = 1
  AND NOT EXISTS (SELECT 1 FROM return_unlock WHERE return_unlock.return_case = damaged.return_case
                    AND return_unlock.intake >= damaged.seq);

-- A case that was photographed, or of which it is said why not, and whose newest intake says what can be seen.
CREATE VIEW return_seen AS
SELECT seq AS return_case FROM return_case
WHERE (EXISTS (SELECT 1 FROM return_photo WHERE return_photo.return_case = return_case.seq)
    OR EXISTS (SELECT 1 FROM return_no_photo WHERE return_no_photo.return_case = return_case.seq))
  AND 0 < (SELECT json_array_length(conditions) FROM return_intake
           WHERE return_intake.return_case = return_case.seq ORDER BY seq DESC LIMIT 1);

-- Held when a stage is begun, before anything moves; a run that was begun is always stored.

CREATE TRIGGER run_start_case_seen BEFORE INSERT ON run_start
WHEN NEW.return_case IS NOT NULL AND NOT EXISTS (SELECT 1 FROM return_seen WHERE return_case = NEW.return_case)
BEGIN SELECT RAISE(ABORT, 'padjig: the returns case has no photo, or does not say what can be seen'); END;

CREATE TRIGGER run_start_case_damaged BEFORE INSERT ON run_start
WHEN EXISTS (SELECT 1 FROM return_locked WHERE return_case = NEW.return_case)
BEGIN SELECT RAISE(ABORT, 'padjig: visible damage ended electrical testing'); END;

CREATE TRIGGER run_case_seen BEFORE INSERT ON run
WHEN NEW.return_case IS NOT NULL AND NEW.start IS NULL
  AND NOT EXISTS (SELECT 1 FROM return_seen WHERE return_case = NEW.return_case)
BEGIN SELECT RAISE(ABORT, 'padjig: the returns case has no photo, or does not say what can be seen'); END;

DROP TRIGGER run_case_damaged;
CREATE TRIGGER run_case_damaged BEFORE INSERT ON run
WHEN NEW.return_case IS NOT NULL AND NEW.start IS NULL
  AND EXISTS (SELECT 1 FROM return_locked WHERE return_case = NEW.return_case)
BEGIN SELECT RAISE(ABORT, 'padjig: visible damage ended electrical testing'); END;

-- Exactly one disposal a closing, and deeds in codes.

CREATE TRIGGER return_disposition_disposal BEFORE INSERT ON return_disposition
WHEN (NEW.disposition <> 'reopened') <> EXISTS (SELECT 1 FROM return_disposal WHERE disposition = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a closed case says what became of the unit'); END;

CREATE TRIGGER rework_coded BEFORE INSERT ON rework
WHEN NOT EXISTS (SELECT 1 FROM rework_deed WHERE rework = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: rework is recorded in codes'); END;

-- Views for people.

CREATE VIEW return_disposals AS
SELECT return_disposal.seq, return_case AS number, disposition.disposition, disposal, reason, by, after_run, contradictions,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_disposal JOIN return_disposition AS disposition ON disposition.seq = return_disposal.disposition;

CREATE VIEW return_without_photo AS
SELECT seq, return_case AS number, reason, by, strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_no_photo;

CREATE VIEW return_unlocks AS
SELECT return_unlock.seq, return_case AS number, serial, reason, by,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_unlock JOIN override ON override.seq = return_unlock.override;

DROP VIEW reworks;
CREATE VIEW reworks AS
SELECT rework.seq, serial, return_case AS number, after_run, what, rework.place, note, by,
       strftime('%Y-%m-%dT%H:%M:%S', done_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', done_us % 1000000) AS done,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at,
       coalesce(deed, '') AS deed, coalesce(kind, '') AS place_kind, coalesce(rework_deed.place, '') AS place_name,
       coalesce(part, '') AS part, coalesce(lot, '') AS lot
FROM rework LEFT JOIN rework_deed ON rework_deed.rework = rework.seq;
