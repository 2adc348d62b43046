-- Migration 14: sums of whole days and months of the plant, beside those of hours. They are a station's (see there, migration 39)
-- over the cells of all stations.
CREATE TABLE span (
  span bigint PRIMARY KEY,
  level smallint NOT NULL CHECK (level IN (1, 2)),     -- 1: a day of the plant, 2: a month
  detail smallint NOT NULL CHECK (detail IN (0, 1)),   -- 1: by all that cells are told apart by; 0: without shift, lots and operator
  begins bigint NOT NULL,
  ends bigint NOT NULL CHECK (ends > begins),
  UNIQUE (level, detail, begins)
);

CREATE INDEX span_ends ON span (ends, begins);

CREATE TABLE span_cell (
  span_cell bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
  span bigint NOT NULL,
  member smallint NOT NULL,
  shift bigint NOT NULL,
  revision bigint NOT NULL,
  jig bigint NOT NULL,
  lots bigint NOT NULL,
  operator text COLLATE "C" NOT NULL,
  actuation text COLLATE "C" NOT NULL,
  simulated bigint NOT NULL,
  purpose text COLLATE "C" NOT NULL,
  first_run bigint NOT NULL,
  last_run bigint NOT NULL,
  runs bigint NOT NULL,
  reseat bigint NOT NULL,
  incomplete bigint NOT NULL,
  aborted bigint NOT NULL,
  units bigint NOT NULL,
  first_passed bigint NOT NULL,
  last_passed bigint NOT NULL,
  retests bigint NOT NULL,
  cures bigint NOT NULL,
  relapses bigint NOT NULL,
  UNIQUE (span, shift, revision, jig, lots, operator, actuation, simulated, purpose, member)
);

CREATE TABLE span_reading (
  span_cell bigint PRIMARY KEY,
  packed bytea NOT NULL
);

CREATE TABLE span_finding (
  span_cell bigint NOT NULL,
  fault bigint NOT NULL,
  units bigint NOT NULL,
  worst bigint NOT NULL,
  runs bigint NOT NULL,
  PRIMARY KEY (span_cell, fault)
);

-- Who changes cells holds this lock with all others that do, until it commits; who sums up a span holds it alone. So a
-- span is made of what is committed, and who changes one of its cells later sees the span.
CREATE FUNCTION cells_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM pg_advisory_xact_lock_shared(hashtext('padjig spans'));
  RETURN NULL;
END $$;

-- The spans of cells that changed go, but for those where only the end of units that were tested again did: these are brought along.
-- Rows are locked in the order of their numbers. It holds whoever changes cells, a station of before among them, so it is the owner's to do.
CREATE FUNCTION spans_of_cells() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
DECLARE
  first bigint;
  last bigint;
BEGIN
  SELECT min(least(n.hour, w.hour)), max(greatest(n.hour, w.hour)) INTO first, last FROM now_so AS n JOIN was_so AS w USING (cell);
  IF first IS NULL OR NOT EXISTS (SELECT 1 FROM span WHERE ends > first AND begins <= last) THEN
    RETURN NULL;
  END IF;
  DELETE FROM span WHERE span IN (
    SELECT span FROM span WHERE ends > first AND begins <= last AND EXISTS (
      SELECT 1 FROM now_so AS n JOIN was_so AS w USING (cell)
      WHERE (n.hour >= begins AND n.hour < ends OR w.hour >= begins AND w.hour < ends)
        AND (n.last_passed = w.last_passed OR
             (n.member, n.hour, n.shift, n.revision, n.jig, n.lots, n.operator, n.actuation, n.simulated, n.purpose, n.first_run, n.last_run,
              n.runs, n.reseat, n.incomplete, n.aborted, n.units, n.first_passed, n.retests, n.cures, n.relapses) IS DISTINCT FROM
             (w.member, w.hour, w.shift, w.revision, w.jig, w.lots, w.operator, w.actuation, w.simulated, w.purpose, w.first_run, w.last_run,
              w.runs, w.reseat, w.incomplete, w.aborted, w.units, w.first_passed, w.retests, w.cures, w.relapses)))
    ORDER BY span FOR UPDATE);
  WITH moved AS (
    SELECT span_cell, sum(n.last_passed - w.last_passed) AS by
    FROM now_so AS n JOIN was_so AS w USING (cell) JOIN span ON n.hour >= begins AND n.hour < ends
    JOIN span_cell AS s ON s.span = span.span AND s.revision = n.revision AND s.jig = n.jig AND s.actuation = n.actuation
      AND s.simulated = n.simulated AND s.purpose = n.purpose AND s.member = n.member AND s.shift = n.shift * detail AND s.lots = n.lots * detail
      AND s.operator = CASE detail WHEN 1 THEN n.operator ELSE '' END
    WHERE ends > first AND begins <= last AND n.last_passed <> w.last_passed GROUP BY span_cell
  ), locked AS (
    SELECT span_cell FROM span_cell WHERE span_cell IN (SELECT span_cell FROM moved) ORDER BY span_cell FOR UPDATE
  )
  UPDATE span_cell SET last_passed = last_passed + moved.by
  FROM moved JOIN locked USING (span_cell) WHERE span_cell.span_cell = moved.span_cell;
  RETURN NULL;
END $$;

-- The spans of cells that came or went, or of which findings or readings did, go.
CREATE FUNCTION spans_of_rows() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
DECLARE
  hours bigint[];
BEGIN
  IF TG_TABLE_NAME = 'cell' THEN
    SELECT array_agg(DISTINCT hour) INTO hours FROM changed WHERE runs <> 0;
  ELSE
    SELECT array_agg(DISTINCT hour) INTO hours FROM changed JOIN cell USING (cell);
  END IF;
  DELETE FROM span WHERE span IN (
    SELECT span FROM span WHERE ends > (SELECT min(hour) FROM unnest(hours) AS hour) AND begins <= (SELECT max(hour) FROM unnest(hours) AS hour)
      AND EXISTS (SELECT 1 FROM unnest(hours) AS hour WHERE hour >= begins AND hour < ends)
    ORDER BY span FOR UPDATE);
  RETURN NULL;
END $$;

CREATE TRIGGER cells_change BEFORE INSERT OR UPDATE OR DELETE ON cell FOR EACH STATEMENT EXECUTE FUNCTION cells_change();
CREATE TRIGGER cells_change BEFORE INSERT OR UPDATE OR DELETE ON cell_reading FOR EACH STATEMENT EXECUTE FUNCTION cells_change();
CREATE TRIGGER cells_change BEFORE INSERT OR UPDATE OR DELETE ON cell_finding FOR EACH STATEMENT EXECUTE FUNCTION cells_change();
CREATE TRIGGER cells_changed AFTER UPDATE ON cell REFERENCING OLD TABLE AS was_so NEW TABLE AS now_so
  FOR EACH STATEMENT EXECUTE FUNCTION spans_of_cells();
CREATE TRIGGER cells_came AFTER INSERT ON cell REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION spans_of_rows();
CREATE TRIGGER cells_went AFTER DELETE ON cell REFERENCING OLD TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION spans_of_rows();
CREATE TRIGGER readings_came AFTER INSERT ON cell_reading REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION spans_of_rows();
CREATE TRIGGER readings_changed AFTER UPDATE ON cell_reading REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION spans_of_rows();
CREATE TRIGGER readings_went AFTER DELETE ON cell_reading REFERENCING OLD TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION spans_of_rows();
CREATE TRIGGER findings_came AFTER INSERT ON cell_finding REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION spans_of_rows();
CREATE TRIGGER findings_changed AFTER UPDATE ON cell_finding REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION spans_of_rows();
CREATE TRIGGER findings_went AFTER DELETE ON cell_finding REFERENCING OLD TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION spans_of_rows();
