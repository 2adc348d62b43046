-- Migration 26: what a lane tests from a run on, where somebody changed that without a
-- restart of the station.
--
-- As before, the table is append-only; hash is the SHA-256 of the row's other columns.

CREATE TABLE product_change (
  seq       INTEGER PRIMARY KEY,       -- 1, 2, 3 ... without a gap
  jig       TEXT    NOT NULL CHECK (jig <> ''),        -- serial number
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  before    TEXT    NOT NULL CHECK (before <> ''),     -- code of the product until then
  product   TEXT    NOT NULL CHECK (product <> ''),    -- code of the product from then on
  given     TEXT    NOT NULL CHECK (given <> ''),      -- code of the one that the station was started with for the jig
  after_run INTEGER NOT NULL,          -- run.seq of the newest run at that time, 0: none
  by        TEXT    NOT NULL CHECK (by <> ''),
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE INDEX product_change_jig ON product_change (jig, simulated, seq);

CREATE TRIGGER product_change_no_update BEFORE UPDATE ON product_change
BEGIN SELECT RAISE(ABORT, 'padjig: product_change is append-only'); END;
CREATE TRIGGER product_change_no_delete BEFORE DELETE ON product_change
BEGIN SELECT RAISE(ABORT, 'padjig: product_change is append-only'); END;
CREATE TRIGGER product_change_no_replace BEFORE INSERT ON product_change
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM product_change)
BEGIN SELECT RAISE(ABORT, 'padjig: product_change is append-only'); END;

CREATE VIEW product_changes AS
SELECT seq, jig, simulated, before, product, after_run, by,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM product_change;
