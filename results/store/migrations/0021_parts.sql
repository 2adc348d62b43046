-- Migration 21: the parts of a jig, each with what it is.
--
-- Besides nest and actuators a jig has probe sets, cables and an adapter. What is put
-- into a place has a name of its own (a serial number) or at least a lot, so that a
-- count begins anew for a part and not for a whim, and goes on where the part goes.
-- The table is made anew with its old rows, since a CHECK cannot be altered; they mean
-- what they meant, for a jig of either sort.

DROP VIEW wear_events;

CREATE TABLE part_event (
  seq        INTEGER PRIMARY KEY,     -- 1, 2, 3 ... without a gap
  jig        TEXT    NOT NULL CHECK (jig <> ''),   -- serial number
  simulated  INTEGER CHECK (simulated IN (0, 1)),  -- NULL: of before this was told apart, holds for both
  part       TEXT    NOT NULL CHECK (part IN ('nest', 'adapter', 'probe set', 'cable') OR part GLOB 'actuator [1-9]*'
               OR part GLOB 'probe set [1-9]*' OR part GLOB 'cable [1-9]*'),
  kind       TEXT    NOT NULL CHECK (kind IN ('replaced', 'removed', 'limits')),
  name       TEXT    NOT NULL DEFAULT '',          -- of the part that was put in; empty: none of its own
  lot        TEXT    NOT NULL DEFAULT '',
  tip        TEXT    NOT NULL DEFAULT '',          -- what its tips are like
  serves     TEXT    NOT NULL DEFAULT '' CHECK (serves = '' OR json_type(serves) = 'array'),  -- channels from 1; empty: all
  after_run  INTEGER NOT NULL,        -- run.seq of the newest run at saving, 0: none
  warn       INTEGER CHECK (warn > 0),             -- uses; NULL for all but limits
  block      INTEGER CHECK (block >= warn),
  by         TEXT    NOT NULL CHECK (by <> ''),
  note       TEXT    NOT NULL,
  at_us      INTEGER NOT NULL,
  CHECK ((kind = 'limits') = (warn IS NOT NULL AND block IS NOT NULL)),
  CHECK (kind <> 'replaced' OR simulated IS NULL OR name <> '' OR lot <> '')
) STRICT;

INSERT INTO part_event (seq, jig, part, kind, after_run, warn, block, by, note, at_us)
SELECT seq, jig, part, kind, after_run, warn, block, by, note, at_us FROM wear_event ORDER BY seq;
DROP TABLE wear_event;
ALTER TABLE part_event RENAME TO wear_event;

CREATE TRIGGER wear_event_no_update BEFORE UPDATE ON wear_event
BEGIN SELECT RAISE(ABORT, 'padjig: wear_event is append-only'); END;
CREATE TRIGGER wear_event_no_delete BEFORE DELETE ON wear_event
BEGIN SELECT RAISE(ABORT, 'padjig: wear_event is append-only'); END;
CREATE TRIGGER wear_event_no_replace BEFORE INSERT ON wear_event
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM wear_event)
BEGIN SELECT RAISE(ABORT, 'padjig: wear_event is append-only'); END;

CREATE VIEW wear_events AS
SELECT seq, jig, part, kind, after_run, warn, block, by, note,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at,
       simulated, name, lot, tip, serves
FROM wear_event;
