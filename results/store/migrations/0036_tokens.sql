-- Tokens of programs that read over the network: made, ended, and on which days they were used.
-- The token itself is nowhere, only the SHA-256 of its 256 random bits.
--
-- As before, every table is append-only; hash is the SHA-256 of the row's other columns.

CREATE TABLE token (
  seq      INTEGER PRIMARY KEY,       -- 1, 2, 3 ... without a gap
  name     TEXT    NOT NULL CHECK (name <> ''),          -- of the program, and whoever answers for it
  secret   BLOB    NOT NULL UNIQUE CHECK (length(secret) = 32),  -- SHA-256 of the token's bits
  scopes   TEXT    NOT NULL CHECK (json_type(scopes) = 'array' AND json_array_length(scopes) > 0),
  until_us INTEGER NOT NULL,          -- good before it
  by       TEXT    NOT NULL CHECK (by <> ''),
  at_us    INTEGER NOT NULL,
  hash     BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE TABLE token_end (
  seq   INTEGER PRIMARY KEY,          -- 1, 2, 3 ... without a gap
  token INTEGER NOT NULL UNIQUE REFERENCES token,
  by    TEXT    NOT NULL CHECK (by <> ''),
  at_us INTEGER NOT NULL,
  hash  BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE TABLE token_use (
  seq   INTEGER PRIMARY KEY,          -- 1, 2, 3 ... without a gap
  token INTEGER NOT NULL REFERENCES token,
  day   TEXT    NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),  -- of UTC, once
  hash  BLOB    NOT NULL CHECK (length(hash) = 32),
  UNIQUE (token, day)
) STRICT;

CREATE TRIGGER token_no_update BEFORE UPDATE ON token
BEGIN SELECT RAISE(ABORT, 'padjig: token is append-only'); END;
CREATE TRIGGER token_no_delete BEFORE DELETE ON token
BEGIN SELECT RAISE(ABORT, 'padjig: token is append-only'); END;
CREATE TRIGGER token_no_replace BEFORE INSERT ON token
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM token)
  OR EXISTS (SELECT 1 FROM token WHERE secret = NEW.secret)
BEGIN SELECT RAISE(ABORT, 'padjig: token is append-only'); END;

CREATE TRIGGER token_end_no_update BEFORE UPDATE ON token_end
BEGIN SELECT RAISE(ABORT, 'padjig: token_end is append-only'); END;
CREATE TRIGGER token_end_no_delete BEFORE DELETE ON token_end
BEGIN SELECT RAISE(ABORT, 'padjig: token_end is append-only'); END;
CREATE TRIGGER token_end_no_replace BEFORE INSERT ON token_end
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM token_end)
  OR EXISTS (SELECT 1 FROM token_end WHERE token = NEW.token)
BEGIN SELECT RAISE(ABORT, 'padjig: token_end is append-only'); END;

CREATE TRIGGER token_use_no_update BEFORE UPDATE ON token_use
BEGIN SELECT RAISE(ABORT, 'padjig: token_use is append-only'); END;
CREATE TRIGGER token_use_no_delete BEFORE DELETE ON token_use
BEGIN SELECT RAISE(ABORT, 'padjig: token_use is append-only'); END;
CREATE TRIGGER token_use_no_replace BEFORE INSERT ON token_use
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM token_use)
  OR EXISTS (SELECT 1 FROM token_use WHERE token = NEW.token AND day = NEW.day)
BEGIN SELECT RAISE(ABORT, 'padjig: token_use is append-only'); END;
