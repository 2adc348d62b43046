-- Migration 11: the run that a start got. Runs of before, and those that were
-- not made on a jig here, have none. And a first pass is one at the first attempt.

ALTER TABLE run ADD COLUMN start INTEGER REFERENCES run_start;

CREATE UNIQUE INDEX run_of_start ON run (start) WHERE start IS NOT NULL;

CREATE TRIGGER run_start_once BEFORE INSERT ON run
WHEN EXISTS (SELECT 1 FROM run WHERE start = NEW.start)
BEGIN SELECT RAISE(ABORT, 'padjig: run is append-only'); END;

CREATE TRIGGER run_start_same BEFORE INSERT ON run
WHEN NEW.start IS NOT NULL AND NOT EXISTS
  (SELECT 1 FROM run_start WHERE seq = NEW.start AND serial = NEW.serial AND revision = NEW.revision AND jig = NEW.jig
     AND simulated = NEW.simulated AND purpose = NEW.purpose AND return_case IS NEW.return_case AND attempt = NEW.attempt)
BEGIN SELECT RAISE(ABORT, 'padjig: the run is not the one that was started'); END;

CREATE TRIGGER run_unfinished_open BEFORE INSERT ON run_unfinished
WHEN EXISTS (SELECT 1 FROM run WHERE start = NEW.start)
BEGIN SELECT RAISE(ABORT, 'padjig: the start has its run'); END;

-- cell.first_passed no longer counts a unit whose first judged run was not its
-- first attempt: something was found before, or may have been.
WITH later AS (
  SELECT cell.cell, count(*) AS units FROM run JOIN run_cell ON run_cell.run = run.seq JOIN cell USING (cell)
  WHERE turn = 1 AND outcome = 'pass' AND attempt > 1 AND cell.purpose = '' GROUP BY cell.cell)
UPDATE cell SET first_passed = first_passed - later.units FROM later WHERE later.cell = cell.cell;

CREATE VIEW starts AS
SELECT run_start.seq,
       substr(lower(hex(run_start.id)), 1, 8) || '-' || substr(lower(hex(run_start.id)), 9, 4) || '-' ||
       substr(lower(hex(run_start.id)), 13, 4) || '-' || substr(lower(hex(run_start.id)), 17, 4) || '-' ||
       substr(lower(hex(run_start.id)), 21) AS start,
       run_start.serial, revision.code AS product, revision.label AS revision, run_start.attempt, run_start.simulated,
       run_start.actuation, run_start.operator, run_start.purpose, run_start.return_case, station.host,
       jig.serial AS jig, run_start.after_run,
       strftime('%Y-%m-%dT%H:%M:%S', run_start.started_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', run_start.started_us % 1000000) AS started,
       run.seq AS run_seq, run_unfinished.seq IS NOT NULL AND run.seq IS NULL AS unfinished,
       lower(hex(run_start.hash)) AS hash
FROM run_start JOIN revision ON revision.revision = run_start.revision JOIN jig ON jig.jig = run_start.jig
JOIN station ON station.station = run_start.station
LEFT JOIN run ON run.start = run_start.seq LEFT JOIN run_unfinished ON run_unfinished.start = run_start.seq;
