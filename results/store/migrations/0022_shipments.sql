-- Migration 22: which units have left, so that what is in doubt can be called back.

CREATE TABLE shipment (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  serial    TEXT    NOT NULL CHECK (serial <> ''),
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  kind      TEXT    NOT NULL CHECK (kind IN ('shipped', 'in stock')),  -- the last one of a unit counts
  consignee TEXT    NOT NULL,         -- to whom; empty: not said
  although  TEXT    NOT NULL,         -- why, of a unit that has not passed by the records; empty: it has
  after_run INTEGER NOT NULL,         -- run.seq of the newest run at saving, 0: none
  by        TEXT    NOT NULL CHECK (by <> ''),
  note      TEXT    NOT NULL,
  at_us     INTEGER NOT NULL
) STRICT;

CREATE INDEX shipment_serial ON shipment (serial);

CREATE TRIGGER shipment_no_update BEFORE UPDATE ON shipment
BEGIN SELECT RAISE(ABORT, 'padjig: shipment is append-only'); END;
CREATE TRIGGER shipment_no_delete BEFORE DELETE ON shipment
BEGIN SELECT RAISE(ABORT, 'padjig: shipment is append-only'); END;
CREATE TRIGGER shipment_no_replace BEFORE INSERT ON shipment
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM shipment)
BEGIN SELECT RAISE(ABORT, 'padjig: shipment is append-only'); END;

CREATE VIEW shipments AS
SELECT seq, serial, kind, consignee, although, simulated, after_run, by, note,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM shipment;
