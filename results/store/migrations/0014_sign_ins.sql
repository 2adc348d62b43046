-- Migration 14: sign-ins at a station, and tries that failed: when, who, from where. Never what
-- was typed.

CREATE TABLE sign_in (
  seq     INTEGER PRIMARY KEY,         -- 1, 2, 3 ... without a gap
  name    TEXT    NOT NULL,            -- of the account; empty: no such account, or not known
  address TEXT    NOT NULL,            -- of the connection, IPv6 as its network; empty: not known
  how     TEXT    NOT NULL CHECK (how IN ('password', 'badge')),
  outcome TEXT    NOT NULL CHECK (outcome IN ('in', 'wrong', 'too many')),
  at_us   INTEGER NOT NULL,
  CHECK (outcome <> 'in' OR name <> '')
) STRICT;

CREATE INDEX sign_in_from ON sign_in (name, address) WHERE outcome = 'in';

CREATE TRIGGER sign_in_no_update BEFORE UPDATE ON sign_in
BEGIN SELECT RAISE(ABORT, 'padjig: sign_in is append-only'); END;
CREATE TRIGGER sign_in_no_delete BEFORE DELETE ON sign_in
BEGIN SELECT RAISE(ABORT, 'padjig: sign_in is append-only'); END;
CREATE TRIGGER sign_in_no_replace BEFORE INSERT ON sign_in
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM sign_in)
BEGIN SELECT RAISE(ABORT, 'padjig: sign_in is append-only'); END;
