-- Migration 33: which program wrote what.
--
-- Runs, calibrations, commissionings and diagnoses of returns name the program that they are by; nothing
-- else does. So a program gets a row here before the first thing that it writes, and again where another
-- one wrote in between, in the transaction that writes: whatever was stored is by the program of the last
-- row before it. Append-only as every table, hash is the SHA-256 of the row's other columns.

CREATE TABLE program (
  seq         INTEGER PRIMARY KEY,    -- 1, 2, 3 ... without a gap
  version     TEXT    NOT NULL CHECK (version <> ''),  -- of a release, or devel
  commit_hash TEXT    NOT NULL,       -- of the sources; empty: not known
  modified    INTEGER NOT NULL CHECK (modified IN (0, 1)),  -- 1: built of other sources than those of the commit
  go          TEXT    NOT NULL,       -- version of Go that compiled it
  platform    TEXT    NOT NULL,       -- system and processor
  sqlite      TEXT    NOT NULL,       -- version of SQLite in it
  host        TEXT    NOT NULL,       -- computer that it ran on
  after_run   INTEGER NOT NULL,       -- run.seq of the newest run then, 0: none
  at_us       INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE TRIGGER program_no_update BEFORE UPDATE ON program
BEGIN SELECT RAISE(ABORT, 'padjig: program is append-only'); END;
CREATE TRIGGER program_no_delete BEFORE DELETE ON program
BEGIN SELECT RAISE(ABORT, 'padjig: program is append-only'); END;
CREATE TRIGGER program_no_replace BEFORE INSERT ON program
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM program)
BEGIN SELECT RAISE(ABORT, 'padjig: program is append-only'); END;

CREATE VIEW programs AS
SELECT seq, version, commit_hash, modified, go, platform, sqlite, host, after_run,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') || printf('.%06dZ', at_us % 1000000) AS at
FROM program;
