-- Migration 2: calibrations of jigs, and what they read.
--
-- As in migration 1 every table is append-only and the views put words and
-- times back. Ohms of a calibration are kept as they were computed, not in
-- milliohm: lead resistances and certificates go below it.

CREATE TABLE calibration (
  seq                INTEGER PRIMARY KEY,   -- 1, 2, 3 ... without a gap: the order of calibrations
  id                 BLOB    NOT NULL UNIQUE CHECK (length(id) = 16),  -- UUIDv7
  kind               TEXT    NOT NULL CHECK (kind IN ('zero', 'verify')),
  jig                INTEGER NOT NULL REFERENCES jig,
  station            INTEGER NOT NULL REFERENCES station,
  simulated          INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  operator           TEXT    NOT NULL,
  after_run          INTEGER NOT NULL,      -- run.seq of the newest run at saving, 0: none
  performed_us       INTEGER NOT NULL,
  interval_us        INTEGER NOT NULL CHECK (interval_us > 0),
  due_us             INTEGER NOT NULL,      -- of the next one of this kind
  box                TEXT    NOT NULL,      -- name of the reference box; empty for a zero
  box_serial         TEXT    NOT NULL,
  certificate        TEXT    NOT NULL,      -- its number
  certificate_due_us INTEGER,               -- NULL for a zero
  good               INTEGER NOT NULL CHECK (good IN (0, 1)),
  reason             TEXT    NOT NULL,      -- why it is not good; empty if it is
  saved_us           INTEGER NOT NULL,
  mono_ns            INTEGER,               -- since the start of the computer, at saving
  clock_synced       INTEGER CHECK (clock_synced IN (0, 1)),
  readings           INTEGER NOT NULL CHECK (readings > 0),
  hash               BLOB    NOT NULL CHECK (length(hash) = 32),  -- SHA-256 of the canonical record
  CHECK (due_us = performed_us + interval_us),
  CHECK ((kind = 'verify') = (certificate_due_us IS NOT NULL)),
  CHECK ((kind = 'verify') = (certificate <> '')),
  CHECK (good = (reason = ''))
) STRICT;

CREATE INDEX calibration_jig ON calibration (jig, kind);

CREATE TABLE calibration_reading (
  calibration     INTEGER NOT NULL REFERENCES calibration DEFERRABLE INITIALLY DEFERRED,
  place           INTEGER NOT NULL,         -- order in the calibration, from 0
  channel         INTEGER NOT NULL CHECK (channel >= 1),  -- as the pin above it, from 1
  mate            INTEGER CHECK (mate >= 1),              -- the other channel; NULL for a zero
  resistor        TEXT    NOT NULL,         -- its name in the box; empty for a zero
  reference_ohm   REAL    NOT NULL CHECK (reference_ohm > 0 AND reference_ohm < 1e308),  -- of the range
  certified_ohm   REAL    CHECK (certified_ohm > 0 AND certified_ohm < 1e308),           -- NULL for a zero
  certified_u_ohm REAL    CHECK (certified_u_ohm >= 0 AND certified_u_ohm < 1e308),
  ohm             REAL    NOT NULL CHECK (abs(ohm) < 1e308),  -- of a zero: in series with the channel
  u_ohm           REAL    NOT NULL CHECK (u_ohm >= 0 AND u_ohm < 1e308),
  deviation_ohm   REAL    NOT NULL CHECK (abs(deviation_ohm) < 1e308),  -- from certified, or from none
  deviation_u_ohm REAL    NOT NULL CHECK (deviation_u_ohm >= 0 AND deviation_u_ohm < 1e308),
  limit_ohm       REAL    NOT NULL CHECK (limit_ohm > 0 AND limit_ohm < 1e308),  -- of the deviation, either way
  good            INTEGER NOT NULL CHECK (good IN (0, 1)),
  PRIMARY KEY (calibration, place),
  CHECK ((mate IS NULL) = (certified_ohm IS NULL)),
  CHECK ((mate IS NULL) = (certified_u_ohm IS NULL)),
  CHECK (mate IS NOT channel),
  CHECK (good = (abs(deviation_ohm) <= limit_ohm))
) STRICT, WITHOUT ROWID;

CREATE TRIGGER calibration_no_update BEFORE UPDATE ON calibration
BEGIN SELECT RAISE(ABORT, 'padjig: calibration is append-only'); END;
CREATE TRIGGER calibration_no_delete BEFORE DELETE ON calibration
BEGIN SELECT RAISE(ABORT, 'padjig: calibration is append-only'); END;

CREATE TRIGGER calibration_reading_no_update BEFORE UPDATE ON calibration_reading
BEGIN SELECT RAISE(ABORT, 'padjig: calibration_reading is append-only'); END;
CREATE TRIGGER calibration_reading_no_delete BEFORE DELETE ON calibration_reading
BEGIN SELECT RAISE(ABORT, 'padjig: calibration_reading is append-only'); END;
CREATE TRIGGER calibration_reading_no_replace BEFORE INSERT ON calibration_reading
WHEN EXISTS (SELECT 1 FROM calibration WHERE seq = NEW.calibration)
BEGIN SELECT RAISE(ABORT, 'padjig: calibration_reading is append-only'); END;

CREATE TRIGGER calibration_no_replace BEFORE INSERT ON calibration
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM calibration)
  OR EXISTS (SELECT 1 FROM calibration WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'padjig: calibration is append-only'); END;

CREATE TRIGGER calibration_complete BEFORE INSERT ON calibration
WHEN NEW.readings <> (SELECT count(*) FROM calibration_reading WHERE calibration = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a part of the calibration is missing'); END;

CREATE TRIGGER calibration_after_run BEFORE INSERT ON calibration
WHEN NEW.after_run IS NOT (SELECT coalesce(max(seq), 0) FROM run)
BEGIN SELECT RAISE(ABORT, 'padjig: the calibration does not follow the newest run'); END;

CREATE TRIGGER calibration_good BEFORE INSERT ON calibration
WHEN NEW.good = 1
 AND EXISTS (SELECT 1 FROM calibration_reading WHERE calibration = NEW.seq AND good = 0)
BEGIN SELECT RAISE(ABORT, 'padjig: the readings do not support a good calibration'); END;

CREATE VIEW calibrations AS
SELECT calibration.seq,
       substr(lower(hex(id)), 1, 8) || '-' || substr(lower(hex(id)), 9, 4) || '-' ||
       substr(lower(hex(id)), 13, 4) || '-' || substr(lower(hex(id)), 17, 4) || '-' ||
       substr(lower(hex(id)), 21) AS calibration,
       kind, jig.serial AS jig, jig.model AS jig_model, jig.firmware AS jig_firmware, jig.adapter AS jig_adapter,
       simulated, operator, after_run,
       strftime('%Y-%m-%dT%H:%M:%S', performed_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', performed_us % 1000000) AS performed,
       interval_us / 86400e6 AS interval_days,
       strftime('%Y-%m-%dT%H:%M:%SZ', due_us / 1000000, 'unixepoch') AS due,
       box, box_serial, certificate,
       strftime('%Y-%m-%dT%H:%M:%SZ', certificate_due_us / 1000000, 'unixepoch') AS certificate_due,
       good, reason,
       strftime('%Y-%m-%dT%H:%M:%S', saved_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', saved_us % 1000000) AS saved,
       mono_ns / 1e9 AS uptime_seconds, clock_synced, station.boot_id, station.host, station.software,
       readings, lower(hex(calibration.hash)) AS hash
FROM calibration JOIN jig USING (jig) JOIN station USING (station);

CREATE VIEW calibration_readings AS
SELECT calibration.seq, kind, jig.serial AS jig, calibration_reading.place, channel, mate, resistor,
       reference_ohm, certified_ohm, certified_u_ohm, ohm, u_ohm, deviation_ohm, deviation_u_ohm, limit_ohm,
       calibration_reading.good
FROM calibration_reading JOIN calibration ON calibration.seq = calibration_reading.calibration JOIN jig USING (jig);
