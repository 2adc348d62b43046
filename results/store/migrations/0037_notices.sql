-- Migration 37: notices, which are what a plant decides for many stations: releases, accounts, lots, dates.
--
-- A station keeps every notice that it took, as it was signed; the office that issues them keeps
-- them in the same table. What a notice brought about is in the tables of that, and names it.
--
-- As before, the tables are append-only; hash is the SHA-256 of the row's other columns.

CREATE TABLE notice (
  seq       INTEGER PRIMARY KEY,      -- number of the notice: 1, 2, 3 ... without a gap
  kind      TEXT    NOT NULL CHECK (kind IN ('beginning', 'key', 'release', 'return', 'account', 'lots', 'dates')),
  subject   TEXT    NOT NULL,         -- product, account, jig or reference that it is of
  body      TEXT    NOT NULL CHECK (json_type(body) = 'object'),
  issued_us INTEGER NOT NULL,         -- by the clock of the plant's office
  before    BLOB    NOT NULL CHECK (length(before) = 32),     -- hash of the notice before it
  signature BLOB    NOT NULL CHECK (length(signature) = 64),  -- Ed25519
  source    TEXT    NOT NULL,         -- at the office the table that it was made of; empty at a station
  upto      INTEGER NOT NULL,         -- at the office seq of the last row of source that is in it
  at_us     INTEGER NOT NULL,         -- it was taken, or issued
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE INDEX notice_subject ON notice (kind, subject);

-- What came of a notice at this station. One without a row waits: its name is another account's.
CREATE TABLE notice_effect (
  seq     INTEGER PRIMARY KEY,        -- 1, 2, 3 ... without a gap
  notice  INTEGER NOT NULL UNIQUE REFERENCES notice,
  outcome TEXT    NOT NULL CHECK (outcome IN ('in force', 'not here', 'label taken')),
  at_us   INTEGER NOT NULL,
  hash    BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

-- No record: what was heard of the plant last, and what is not believed of it. Replaced with every look.
CREATE TABLE plant_contact (
  one        INTEGER PRIMARY KEY CHECK (one = 1),
  count      INTEGER NOT NULL,        -- notices that there are by the newest head; 0: none was heard
  top        BLOB    NOT NULL,        -- hash of the last of them
  products   TEXT    NOT NULL CHECK (json_type(products) = 'object'),  -- number of the last notice of each
  issued_us  INTEGER NOT NULL,        -- by the clock of the plant's office
  signature  BLOB    NOT NULL,
  heard_us   INTEGER NOT NULL,        -- a newer head was heard, by the clock of this computer; 0: never
  stale_us   INTEGER NOT NULL,        -- for so long nothing need be heard before it is said
  trouble    TEXT    NOT NULL,        -- code of what is not believed; empty: nothing
  number     INTEGER NOT NULL,        -- of the notice or head that it is of
  why        TEXT    NOT NULL,
  trouble_us INTEGER NOT NULL         -- since when
) STRICT;

CREATE TRIGGER notice_no_update BEFORE UPDATE ON notice
BEGIN SELECT RAISE(ABORT, 'padjig: notice is append-only'); END;
CREATE TRIGGER notice_no_delete BEFORE DELETE ON notice
BEGIN SELECT RAISE(ABORT, 'padjig: notice is append-only'); END;
CREATE TRIGGER notice_no_replace BEFORE INSERT ON notice
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM notice)
BEGIN SELECT RAISE(ABORT, 'padjig: notice is append-only'); END;

CREATE TRIGGER notice_effect_no_update BEFORE UPDATE ON notice_effect
BEGIN SELECT RAISE(ABORT, 'padjig: notice_effect is append-only'); END;
CREATE TRIGGER notice_effect_no_delete BEFORE DELETE ON notice_effect
BEGIN SELECT RAISE(ABORT, 'padjig: notice_effect is append-only'); END;
CREATE TRIGGER notice_effect_no_replace BEFORE INSERT ON notice_effect
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM notice_effect)
  OR EXISTS (SELECT 1 FROM notice_effect WHERE notice = NEW.notice)
BEGIN SELECT RAISE(ABORT, 'padjig: notice_effect is append-only'); END;

-- A release is proposed here, or it is the plant's. What a proposal says of it a notice says as well.
ALTER TABLE release ADD COLUMN notice INTEGER REFERENCES notice;            -- none: released here
ALTER TABLE release ADD COLUMN from_serial TEXT NOT NULL DEFAULT '';        -- of a notice: as of a proposal
ALTER TABLE release ADD COLUMN approved TEXT NOT NULL DEFAULT '';           -- of a notice: by whom, as of an approval

CREATE UNIQUE INDEX release_notice ON release (notice) WHERE notice IS NOT NULL;

DROP TRIGGER release_of_proposal;
CREATE TRIGGER release_of_proposal BEFORE INSERT ON release
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release) AND NEW.notice IS NULL AND (NOT EXISTS (
  SELECT 1 FROM release_proposal AS asked
  WHERE asked.seq = NEW.proposal AND asked.code = NEW.code AND asked.label = NEW.label AND asked.revision = NEW.hash
    AND asked.kind = NEW.kind AND asked.source = NEW.source AND asked.by = NEW.by AND asked.reason = NEW.reason
    AND asked.base = (SELECT coalesce(max(seq), 0) FROM release WHERE code = NEW.code)
    AND (asked.loosens = 0 OR EXISTS (SELECT 1 FROM release_approval WHERE proposal = asked.seq)))
  OR NEW.from_serial <> '' OR NEW.approved <> '')
BEGIN SELECT RAISE(ABORT, 'padjig: the release was not proposed, or not approved by a second person'); END;

CREATE TRIGGER release_of_notice BEFORE INSERT ON release
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release) AND NEW.notice IS NOT NULL AND (NEW.proposal IS NOT NULL OR NOT EXISTS (
  SELECT 1 FROM notice AS said
  WHERE said.seq = NEW.notice AND said.seq > coalesce((SELECT max(notice) FROM release), 0)
    AND said.kind = CASE NEW.kind WHEN 'back' THEN 'return' ELSE 'release' END AND said.subject = NEW.code
    AND (said.body ->> '$.label', said.body ->> '$.hash', said.body ->> '$.source', said.body ->> '$.by', said.body ->> '$.reason',
         said.body ->> '$.from_serial', said.body ->> '$.approved')
        IS (NEW.label, NEW.hash, NEW.source, NEW.by, NEW.reason, NEW.from_serial, NEW.approved)))
BEGIN SELECT RAISE(ABORT, 'padjig: the release is not what the notice says'); END;

-- What the plant releases, it releases alone.
CREATE TRIGGER release_of_plant BEFORE INSERT ON release
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release) AND NEW.notice IS NULL
 AND EXISTS (SELECT 1 FROM release WHERE code = NEW.code AND notice IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'padjig: the plant releases this product'); END;

-- An account that the plant made is the plant's until the plant closes it.
ALTER TABLE account_event ADD COLUMN notice INTEGER REFERENCES notice;      -- none: decided here

CREATE TRIGGER account_event_of_plant BEFORE INSERT ON account_event
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM account_event) AND CASE WHEN NEW.notice IS NULL
  THEN EXISTS (SELECT 1 FROM account_event AS past WHERE past.name = NEW.name AND past.notice IS NOT NULL
               AND past.seq > (SELECT coalesce(max(seq), 0) FROM account_event WHERE name = NEW.name AND kind = 'closed'))
  ELSE NOT EXISTS (SELECT 1 FROM notice AS said WHERE said.seq = NEW.notice AND said.kind = 'account' AND said.subject = NEW.name) END
BEGIN SELECT RAISE(ABORT, 'padjig: the plant decides about this account'); END;
