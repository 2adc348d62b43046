-- Migration 27: who made an account counts for good; accounts that are locked; who ended
-- a session; the weekdays of a shift; drafts of product files.

CREATE TABLE account_lock (
  seq   INTEGER PRIMARY KEY,          -- 1, 2, 3 ... without a gap
  name  TEXT    NOT NULL CHECK (name <> ''),            -- of the account
  kind  TEXT    NOT NULL CHECK (kind IN ('locked', 'unlocked')),
  by    TEXT    NOT NULL CHECK (by <> ''),
  at_us INTEGER NOT NULL,
  hash  BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE TRIGGER account_lock_no_update BEFORE UPDATE ON account_lock
BEGIN SELECT RAISE(ABORT, 'padjig: account_lock is append-only'); END;
CREATE TRIGGER account_lock_no_delete BEFORE DELETE ON account_lock
BEGIN SELECT RAISE(ABORT, 'padjig: account_lock is append-only'); END;
CREATE TRIGGER account_lock_no_replace BEFORE INSERT ON account_lock
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM account_lock)
BEGIN SELECT RAISE(ABORT, 'padjig: account_lock is append-only'); END;

-- Empty: whoever it was of, or it had lasted long enough.
ALTER TABLE session_end ADD COLUMN by TEXT NOT NULL DEFAULT '';

-- Bit 0 is Monday; a shift over midnight belongs to the day on which it begins. Plans of
-- before were for every day.
ALTER TABLE shift ADD COLUMN days INTEGER NOT NULL DEFAULT 127 CHECK (days BETWEEN 1 AND 127);

-- A draft is no record: it proves nothing, and is replaced as its writer goes on.
CREATE TABLE draft (
  code    TEXT    NOT NULL CHECK (code <> ''),          -- of the product
  by      TEXT    NOT NULL CHECK (by <> ''),
  version INTEGER NOT NULL CHECK (version > 0),         -- rises with every change
  source  TEXT    NOT NULL,                             -- the product file as far as it is
  at_us   INTEGER NOT NULL,
  PRIMARY KEY (code, by)
) STRICT, WITHOUT ROWID;

-- Who approves has an account that the proposer has not made, nor given a password or
-- badge, whenever that was; and the proposer one that the approver has not. What was
-- done before an account was closed is over: somebody else made it anew.
DROP TRIGGER release_approval_two;
CREATE TRIGGER release_approval_two BEFORE INSERT ON release_approval
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release_approval) AND (NOT EXISTS (
  SELECT 1 FROM release_proposal AS asked
  WHERE asked.seq = NEW.proposal AND asked.revision = NEW.revision
    AND lower(replace(asked.by, ' ', '')) <> lower(replace(NEW.by, ' ', ''))
    AND (SELECT role FROM account_event WHERE name = NEW.by AND kind IN ('role', 'closed')
         ORDER BY seq DESC LIMIT 1) IN ('quality', 'engineer')
    AND (SELECT kind FROM account_lock WHERE name = NEW.by ORDER BY seq DESC LIMIT 1) IS NOT 'locked'
    AND NOT EXISTS (
      SELECT 1 FROM account_event AS made
      WHERE made.seq > (SELECT coalesce(max(seq), 0) FROM account_event WHERE name = made.name AND kind = 'closed')
        AND (made.name = NEW.by AND lower(replace(made.by, ' ', '')) = lower(replace(asked.by, ' ', ''))
          OR made.name = asked.by AND lower(replace(made.by, ' ', '')) = lower(replace(NEW.by, ' ', ''))))))
BEGIN SELECT RAISE(ABORT, 'padjig: a second person of quality or engineer has to approve the proposal'); END;
