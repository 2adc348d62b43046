-- Migration 39: sums of whole days and months of the plant, beside those of hours.
--
-- A span sums up all cells whose hours lie in it, so that a question about weeks or years reads a few
-- rows of each day or month and cells only at the edges. Like cells they say nothing that the runs do not say.
-- A span that is there is complete and right: where one of its cells changes, the span is
-- brought along or goes, in the same transaction and whoever changes the cell, and is summed up anew later. Where one is missing, the
-- cells answer.

CREATE TABLE span (
  span   INTEGER PRIMARY KEY,
  level  INTEGER NOT NULL CHECK (level IN (1, 2)),   -- 1: a day of the plant, 2: a month
  detail INTEGER NOT NULL CHECK (detail IN (0, 1)),  -- 1: by all that cells are told apart by; 0: without shift, lots and operator
  begins INTEGER NOT NULL,            -- hours of UTC since 1970, as cell.hour
  ends   INTEGER NOT NULL CHECK (ends > begins),     -- the first hour that is no longer in it
  UNIQUE (level, detail, begins)
) STRICT;

CREATE INDEX span_ends ON span (ends, begins);

-- The columns are those of cell, summed up; shift and lots are 0 and operator is empty where they are not told apart.
-- Rows of a span that is gone are swept when the next one is made.
CREATE TABLE span_cell (
  span_cell INTEGER PRIMARY KEY,
  span      INTEGER NOT NULL,
  shift     INTEGER NOT NULL,
  revision  INTEGER NOT NULL REFERENCES revision,
  jig       INTEGER NOT NULL REFERENCES jig,
  lots      INTEGER NOT NULL,
  operator  TEXT    NOT NULL,
  actuation TEXT    NOT NULL,
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  purpose   TEXT    NOT NULL,
  first_run INTEGER NOT NULL,
  last_run  INTEGER NOT NULL,
  runs      INTEGER NOT NULL,
  reseat    INTEGER NOT NULL,
  incomplete INTEGER NOT NULL,
  aborted   INTEGER NOT NULL,
  units     INTEGER NOT NULL,
  first_passed INTEGER NOT NULL,
  last_passed  INTEGER NOT NULL,
  retests   INTEGER NOT NULL,
  cures     INTEGER NOT NULL,
  relapses  INTEGER NOT NULL,
  UNIQUE (span, shift, revision, jig, lots, operator, actuation, simulated, purpose)
) STRICT;

CREATE TABLE span_reading (
  span_cell INTEGER PRIMARY KEY,
  packed    BLOB NOT NULL             -- as cell_reading.packed
) STRICT;

CREATE TABLE span_finding (
  span_cell INTEGER NOT NULL,
  fault     INTEGER NOT NULL REFERENCES fault,
  units     INTEGER NOT NULL,
  worst     INTEGER NOT NULL,
  runs      INTEGER NOT NULL,
  PRIMARY KEY (span_cell, fault)
) STRICT, WITHOUT ROWID;

-- A unit that is tested again later changes what is said of it in the end, in the cell of its first run and in nothing
-- else there: the spans of that cell are brought along. It happens every day.
CREATE TRIGGER cell_in_span AFTER UPDATE OF last_passed ON cell
WHEN OLD.last_passed <> NEW.last_passed AND EXISTS (SELECT 1 FROM span WHERE ends > NEW.hour AND begins <= NEW.hour)
BEGIN
  UPDATE span_cell SET last_passed = last_passed + NEW.last_passed - OLD.last_passed
  WHERE span IN (SELECT span FROM span WHERE ends > NEW.hour AND begins <= NEW.hour AND detail = 1)
    AND shift = NEW.shift AND revision = NEW.revision AND jig = NEW.jig AND lots = NEW.lots AND operator = NEW.operator
    AND actuation = NEW.actuation AND simulated = NEW.simulated AND purpose = NEW.purpose;
  UPDATE span_cell SET last_passed = last_passed + NEW.last_passed - OLD.last_passed
  WHERE span IN (SELECT span FROM span WHERE ends > NEW.hour AND begins <= NEW.hour AND detail = 0)
    AND shift = 0 AND revision = NEW.revision AND jig = NEW.jig AND lots = 0 AND operator = ''
    AND actuation = NEW.actuation AND simulated = NEW.simulated AND purpose = NEW.purpose;
END;

-- Whatever else is written into a cell, its spans go; with its counts go its findings and readings.
CREATE TRIGGER cell_out_of_span AFTER UPDATE OF hour, shift, revision, jig, lots, operator, actuation, simulated, purpose,
  first_run, last_run, runs, reseat, incomplete, aborted, units, first_passed, retests, cures, relapses ON cell
WHEN EXISTS (SELECT 1 FROM span WHERE ends > min(OLD.hour, NEW.hour) AND begins <= max(OLD.hour, NEW.hour))
BEGIN DELETE FROM span WHERE ends > NEW.hour AND begins <= NEW.hour OR ends > OLD.hour AND begins <= OLD.hour; END;

CREATE TRIGGER cell_into_span AFTER INSERT ON cell WHEN NEW.runs <> 0
BEGIN DELETE FROM span WHERE ends > NEW.hour AND begins <= NEW.hour; END;

CREATE TRIGGER cell_left_span AFTER DELETE ON cell
BEGIN DELETE FROM span WHERE ends > OLD.hour AND begins <= OLD.hour; END;
