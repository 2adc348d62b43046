-- Migration 34: backups that were taken of these records, and backups that they were restored from.
--
-- As before, the table is append-only; hash is the SHA-256 of the row's other columns. A row is
-- written when it is known how it ended. A backup that somebody copied by hand has none.

CREATE TABLE backup (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  deed      TEXT    NOT NULL CHECK (deed IN ('backup', 'restore')),
  folder    TEXT    NOT NULL CHECK (folder <> ''),  -- where backups go to; of a restore the backup itself
  name      TEXT    NOT NULL,         -- of the backup in that folder; empty where none came about
  outcome   TEXT    NOT NULL CHECK (outcome IN ('whole', 'failed')),
  why       TEXT    NOT NULL,         -- it failed
  checked   TEXT    NOT NULL CHECK (checked IN ('', 'quick', 'full')),
  scheduled INTEGER NOT NULL CHECK (scheduled IN (0, 1)),
  runs      INTEGER NOT NULL,         -- run.seq of the newest run in it
  bytes     INTEGER NOT NULL,         -- of all its files
  software  TEXT    NOT NULL,         -- version of padjig
  host      TEXT    NOT NULL,
  began_us  INTEGER NOT NULL,
  at_us     INTEGER NOT NULL,         -- it ended
  hash      BLOB    NOT NULL CHECK (length(hash) = 32),
  CHECK ((outcome = 'failed') = (why <> '')),
  CHECK (outcome = 'failed' OR name <> '' AND checked <> '')
) STRICT;

CREATE TRIGGER backup_no_update BEFORE UPDATE ON backup
BEGIN SELECT RAISE(ABORT, 'padjig: backup is append-only'); END;
CREATE TRIGGER backup_no_delete BEFORE DELETE ON backup
BEGIN SELECT RAISE(ABORT, 'padjig: backup is append-only'); END;
CREATE TRIGGER backup_no_replace BEFORE INSERT ON backup
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM backup)
BEGIN SELECT RAISE(ABORT, 'padjig: backup is append-only'); END;
