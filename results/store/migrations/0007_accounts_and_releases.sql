-- Migration 7: who may use a station, what was overridden and why, and which
-- revision of a product holds. As before, every table is append-only: an
-- account is what its events say, one after another.

CREATE TABLE account_event (
  seq    INTEGER PRIMARY KEY,         -- 1, 2, 3 ... without a gap
  name   TEXT    NOT NULL CHECK (name <> ''),
  kind   TEXT    NOT NULL CHECK (kind IN ('role', 'password', 'badge', 'closed')),
  role   TEXT    NOT NULL CHECK ((kind = 'role') = (role IN ('operator', 'quality', 'returns', 'engineer'))),
  secret TEXT    NOT NULL,            -- Argon2id of a password; SHA-256 of a badge's code, hexadecimal; else empty
  by     TEXT    NOT NULL CHECK (by <> ''),
  at_us  INTEGER NOT NULL,
  CHECK ((kind IN ('password', 'badge')) = (secret <> ''))
) STRICT;

CREATE INDEX account_event_secret ON account_event (secret) WHERE kind = 'badge';

CREATE TABLE session (
  seq   INTEGER PRIMARY KEY,          -- 1, 2, 3 ... without a gap
  hash  BLOB    NOT NULL UNIQUE CHECK (length(hash) = 32),  -- SHA-256 of the browser's token
  name  TEXT    NOT NULL CHECK (name <> ''),
  how   TEXT    NOT NULL CHECK (how IN ('password', 'badge')),
  at_us INTEGER NOT NULL
) STRICT;

CREATE TABLE session_end (
  session INTEGER PRIMARY KEY REFERENCES session,
  at_us   INTEGER NOT NULL
) STRICT;

CREATE TABLE override (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  what      TEXT    NOT NULL CHECK (what <> ''),  -- what stood in the way
  serial    TEXT    NOT NULL,         -- of the unit
  jig       TEXT    NOT NULL,         -- serial number
  by        TEXT    NOT NULL CHECK (by <> ''),
  reason    TEXT    NOT NULL CHECK (reason <> ''),
  after_run INTEGER NOT NULL,         -- run.seq of the newest run at saving, 0: none
  at_us     INTEGER NOT NULL
) STRICT;

CREATE TABLE release (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  code      TEXT    NOT NULL CHECK (code <> ''),  -- of the product
  label     TEXT    NOT NULL,         -- the engineer's name of the revision
  hash      TEXT    NOT NULL CHECK (length(hash) = 64),  -- of its meaning
  kind      TEXT    NOT NULL CHECK (kind IN ('release', 'back')),
  source    TEXT    NOT NULL CHECK (source <> ''),       -- the product file, whole
  by        TEXT    NOT NULL CHECK (by <> ''),
  reason    TEXT    NOT NULL CHECK (reason <> ''),
  after_run INTEGER NOT NULL,         -- run.seq of the newest run at saving, 0: none
  at_us     INTEGER NOT NULL
) STRICT;

CREATE INDEX release_code ON release (code, seq);

CREATE TRIGGER account_event_no_update BEFORE UPDATE ON account_event
BEGIN SELECT RAISE(ABORT, 'padjig: account_event is append-only'); END;
CREATE TRIGGER account_event_no_delete BEFORE DELETE ON account_event
BEGIN SELECT RAISE(ABORT, 'padjig: account_event is append-only'); END;
CREATE TRIGGER account_event_no_replace BEFORE INSERT ON account_event
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM account_event)
BEGIN SELECT RAISE(ABORT, 'padjig: account_event is append-only'); END;

CREATE TRIGGER session_no_update BEFORE UPDATE ON session
BEGIN SELECT RAISE(ABORT, 'padjig: session is append-only'); END;
CREATE TRIGGER session_no_delete BEFORE DELETE ON session
BEGIN SELECT RAISE(ABORT, 'padjig: session is append-only'); END;
CREATE TRIGGER session_no_replace BEFORE INSERT ON session
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM session)
  OR EXISTS (SELECT 1 FROM session WHERE hash = NEW.hash)
BEGIN SELECT RAISE(ABORT, 'padjig: session is append-only'); END;

CREATE TRIGGER session_end_no_update BEFORE UPDATE ON session_end
BEGIN SELECT RAISE(ABORT, 'padjig: session_end is append-only'); END;
CREATE TRIGGER session_end_no_delete BEFORE DELETE ON session_end
BEGIN SELECT RAISE(ABORT, 'padjig: session_end is append-only'); END;
CREATE TRIGGER session_end_no_replace BEFORE INSERT ON session_end
WHEN EXISTS (SELECT 1 FROM session_end WHERE session = NEW.session)
BEGIN SELECT RAISE(ABORT, 'padjig: session_end is append-only'); END;

CREATE TRIGGER override_no_update BEFORE UPDATE ON override
BEGIN SELECT RAISE(ABORT, 'padjig: override is append-only'); END;
CREATE TRIGGER override_no_delete BEFORE DELETE ON override
BEGIN SELECT RAISE(ABORT, 'padjig: override is append-only'); END;
CREATE TRIGGER override_no_replace BEFORE INSERT ON override
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM override)
BEGIN SELECT RAISE(ABORT, 'padjig: override is append-only'); END;

CREATE TRIGGER release_no_update BEFORE UPDATE ON release
BEGIN SELECT RAISE(ABORT, 'padjig: release is append-only'); END;
CREATE TRIGGER release_no_delete BEFORE DELETE ON release
BEGIN SELECT RAISE(ABORT, 'padjig: release is append-only'); END;
CREATE TRIGGER release_no_replace BEFORE INSERT ON release
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM release)
BEGIN SELECT RAISE(ABORT, 'padjig: release is append-only'); END;
