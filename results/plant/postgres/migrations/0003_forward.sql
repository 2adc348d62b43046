-- how records come from the stations.

-- The first run of a station tells whether two go by one name, or one by two.
ALTER TABLE member ADD COLUMN first_id bytea UNIQUE, ADD COLUMN first_hash bytea;

-- The number here of the newest row of a table that came.
ALTER TABLE forwarded ADD COLUMN number bigint NOT NULL DEFAULT 0;

-- The agreement on what is written here and how: results/plant/tables.
CREATE TABLE forward_contract (contract bigint NOT NULL);
INSERT INTO forward_contract VALUES (1);

-- How far the clock of a station was ahead of this database's while its runs came, first and last of them.
CREATE TABLE clock_offset (
  member smallint NOT NULL REFERENCES member,
  at_us  bigint NOT NULL,                  -- when it was measured, by the clock here
  ahead_us bigint NOT NULL,
  uncertainty_us bigint NOT NULL,          -- it lies within this of the true one: half of the round trip
  first_run bigint NOT NULL,
  last_run  bigint NOT NULL,
  PRIMARY KEY (member, first_run)
);

-- month_of, without a lock that anybody who reads or stores has to wait for: a table is made and then attached.
CREATE OR REPLACE FUNCTION month_of(run_number bigint) RETURNS void
LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
DECLARE
  zero CONSTANT timestamptz := '2020-01-01 00:00:00+00';
  begins timestamptz := date_trunc('month', zero + (run_number / 4096) * interval '1 millisecond', 'UTC');
  low bigint := (extract(epoch FROM begins - zero) * 1000)::bigint * 4096;
  high bigint := (extract(epoch FROM (begins AT TIME ZONE 'UTC' + interval '1 month') AT TIME ZONE 'UTC' - zero) * 1000)::bigint * 4096;
  suffix text := to_char(begins AT TIME ZONE 'UTC', '_YYYY_MM');
  parent text;
BEGIN
  IF to_regclass('run_cell' || suffix) IS NOT NULL THEN
    RETURN;
  END IF;
  PERFORM pg_advisory_xact_lock(hashtext('padjig month'));
  FOREACH parent IN ARRAY ARRAY['run', 'run_step', 'run_seat', 'run_key', 'run_pair', 'run_finding', 'run_exercise', 'run_insulation', 'run_cell'] LOOP
    IF to_regclass(parent || suffix) IS NULL THEN
      EXECUTE format('CREATE TABLE %I (LIKE %I INCLUDING ALL)', parent || suffix, parent);
      EXECUTE format('ALTER TABLE %I ATTACH PARTITION %I FOR VALUES FROM (%s) TO (%s)', parent, parent || suffix, low, high);
    END IF;
  END LOOP;
END $$;
