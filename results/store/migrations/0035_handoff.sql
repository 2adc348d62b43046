-- Migration 35: what is handed on to other systems, and how far each of them got.
--
-- An event is a row of the outbox, written by a trigger in the very transaction that stores
-- what it tells of: there is no run without its event, whoever stored it. It says what kind
-- and which row, no more; the message is made of the records when it is sent.

CREATE TABLE outbox (
  seq  INTEGER PRIMARY KEY,            -- 1, 2, 3 ... without a gap: the order in which it is handed on
  id   BLOB    NOT NULL CHECK (length(id) = 16),   -- of the event, the same however often it is sent
  kind TEXT    NOT NULL CHECK (kind IN ('run', 'override', 'placement', 'rework', 'disposition')),
  ref  INTEGER NOT NULL                -- seq in the table that kind names; of a disposition in return_disposition
) STRICT;

-- What became of it with a receiver. The last row of begun, delivered and again says how far the
-- receiver got; refused and set aside are of one event.
CREATE TABLE hand_off (
  seq      INTEGER PRIMARY KEY,        -- 1, 2, 3 ... without a gap
  receiver TEXT    NOT NULL CHECK (receiver <> ''),          -- name
  what     TEXT    NOT NULL CHECK (what IN ('begun', 'delivered', 'again', 'failing', 'refused', 'set aside')),
  event    INTEGER NOT NULL CHECK (event >= 0),  -- outbox.seq: the last one that it has, 0 for none; else the one concerned
  why      TEXT    NOT NULL,           -- what the receiver said, or why somebody set it aside or has it sent again
  by       TEXT    NOT NULL,           -- a person; empty: the program
  next_us  INTEGER,                    -- of failing: when it is tried again
  at_us    INTEGER NOT NULL,
  hash     BLOB    NOT NULL CHECK (length(hash) = 32),       -- SHA-256 of the other columns
  CHECK ((what = 'failing') = (next_us IS NOT NULL)),
  CHECK ((what IN ('again', 'set aside')) = (by <> '')),
  CHECK (what IN ('begun', 'delivered') OR why <> '')
) STRICT;

CREATE INDEX hand_off_receiver ON hand_off (receiver, what);

-- What was stored before can be sent as well, when somebody asks for it.
INSERT INTO outbox
SELECT row_number() OVER (ORDER BY at_us, place, seq), randomblob(16), kind, seq FROM (
  SELECT 1 AS place, 'run' AS kind, seq, saved_us AS at_us FROM run
  UNION ALL SELECT 2, 'override', seq, at_us FROM override WHERE serial <> ''
  UNION ALL SELECT 3, 'placement', seq, at_us FROM placement
  UNION ALL SELECT 4, 'rework', seq, at_us FROM rework
  UNION ALL SELECT 5, 'disposition', seq, at_us FROM return_disposition);

CREATE TRIGGER outbox_run AFTER INSERT ON run
BEGIN INSERT INTO outbox SELECT coalesce(max(seq), 0) + 1, randomblob(16), 'run', NEW.seq FROM outbox; END;
CREATE TRIGGER outbox_override AFTER INSERT ON override WHEN NEW.serial <> ''
BEGIN INSERT INTO outbox SELECT coalesce(max(seq), 0) + 1, randomblob(16), 'override', NEW.seq FROM outbox; END;
CREATE TRIGGER outbox_placement AFTER INSERT ON placement
BEGIN INSERT INTO outbox SELECT coalesce(max(seq), 0) + 1, randomblob(16), 'placement', NEW.seq FROM outbox; END;
CREATE TRIGGER outbox_rework AFTER INSERT ON rework
BEGIN INSERT INTO outbox SELECT coalesce(max(seq), 0) + 1, randomblob(16), 'rework', NEW.seq FROM outbox; END;
CREATE TRIGGER outbox_disposition AFTER INSERT ON return_disposition
BEGIN INSERT INTO outbox SELECT coalesce(max(seq), 0) + 1, randomblob(16), 'disposition', NEW.seq FROM outbox; END;

CREATE TRIGGER outbox_no_update BEFORE UPDATE ON outbox
BEGIN SELECT RAISE(ABORT, 'padjig: outbox is append-only'); END;
CREATE TRIGGER outbox_no_delete BEFORE DELETE ON outbox
BEGIN SELECT RAISE(ABORT, 'padjig: outbox is append-only'); END;
CREATE TRIGGER outbox_no_replace BEFORE INSERT ON outbox
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM outbox)
BEGIN SELECT RAISE(ABORT, 'padjig: outbox is append-only'); END;

CREATE TRIGGER hand_off_no_update BEFORE UPDATE ON hand_off
BEGIN SELECT RAISE(ABORT, 'padjig: hand_off is append-only'); END;
CREATE TRIGGER hand_off_no_delete BEFORE DELETE ON hand_off
BEGIN SELECT RAISE(ABORT, 'padjig: hand_off is append-only'); END;
CREATE TRIGGER hand_off_no_replace BEFORE INSERT ON hand_off
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM hand_off)
BEGIN SELECT RAISE(ABORT, 'padjig: hand_off is append-only'); END;

-- Nobody has got what is not there.
CREATE TRIGGER hand_off_event BEFORE INSERT ON hand_off
WHEN NEW.event > (SELECT coalesce(max(seq), 0) FROM outbox)
BEGIN SELECT RAISE(ABORT, 'padjig: there is no such event'); END;
