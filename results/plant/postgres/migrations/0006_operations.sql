-- Migration: who may do what, records that stay as they are, and months whose readings went to files.

-- The login role of a station; it is made by padjig plant member add, and is the only one that writes its rows.
ALTER TABLE member ADD COLUMN login text COLLATE "C" UNIQUE;

-- A month of which the readings are no longer here: they lie in files, as the manifest beside them says.
-- It is closed to new runs from the moment the row is there; dropped_us says since when the readings are gone.
CREATE TABLE retired_month (
  low bigint PRIMARY KEY,              -- the first number of a run of the month
  high bigint NOT NULL UNIQUE,         -- that of the month after it
  name text COLLATE "C" NOT NULL UNIQUE,
  by text COLLATE "C" NOT NULL,
  closed_us bigint NOT NULL,
  runs bigint,
  manifest text COLLATE "C",           -- SHA-256 of manifest.json of the month
  dropped_us bigint
);

-- open_from is the lowest number that a run may be stored under: months before it are closed.
CREATE FUNCTION open_from() RETURNS bigint LANGUAGE sql STABLE SET search_path = pg_catalog, public, pg_temp AS
  $$ SELECT coalesce(max(high), 0) FROM retired_month $$;

-- What is stored stays as it is. Nobody changes or takes out rows of records, the owner neither;
-- readings go a month at a time, after they were read back from files.
CREATE FUNCTION records_stay() RETURNS trigger LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
  RAISE EXCEPTION 'records of % are not changed and not taken out', TG_TABLE_NAME
    USING ERRCODE = 'insufficient_privilege', HINT = 'a correction is a new row; months of readings go by padjig plant retire';
END $$;

-- A row is stored by the station that it is of. The trigger asks for this function only where the number of the row is not
-- that at the end of the role's name; then it is the owner, who restores and mends, or somebody who must not.
CREATE FUNCTION own_rows() RETURNS trigger LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
  IF NOT pg_has_role(current_user, (SELECT relowner FROM pg_class WHERE oid = TG_RELID), 'USAGE') THEN
    RAISE EXCEPTION 'a row of % is not of the station that signed in as %', TG_TABLE_NAME, current_user
      USING ERRCODE = 'insufficient_privilege', HINT = 'each station signs in by the role that padjig plant member add made for it';
  END IF;
  RETURN NULL;
END $$;

-- guard_records puts both over a table whose rows say by number which station they are of.
CREATE PROCEDURE guard_records(records regclass, number name) LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
  EXECUTE format('CREATE TRIGGER own_rows AFTER INSERT ON %s FOR EACH ROW
    WHEN ((NEW.%I & 4095)::text <> split_part(current_user, ''_station_'', 2)) EXECUTE FUNCTION own_rows()', records, number);
  EXECUTE format('CREATE TRIGGER records_stay BEFORE UPDATE OR DELETE ON %s FOR EACH ROW EXECUTE FUNCTION records_stay()', records);
  EXECUTE format('CREATE TRIGGER records_stay_whole BEFORE TRUNCATE ON %s EXECUTE FUNCTION records_stay()', records);
END $$;

DO $$
DECLARE
  records regclass;
BEGIN
  FOR records IN SELECT attrelid::regclass FROM pg_attribute JOIN pg_class ON pg_class.oid = attrelid
                 WHERE attname = 'local' AND relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p')
                   AND NOT relispartition AND relname <> 'forwarded' LOOP
    CALL guard_records(records, CASE records::text WHEN 'shift' THEN 'shift'::name ELSE 'seq' END);
    -- The column member says the same as the number does.
    EXECUTE format('ALTER TABLE %s ADD CONSTRAINT member_of_number CHECK (member = %I & 4095)', records,
      CASE records::text WHEN 'shift' THEN 'shift' ELSE 'seq' END);
  END LOOP;
  FOREACH records IN ARRAY ARRAY['run_step', 'run_seat', 'run_key', 'run_pair', 'run_finding', 'run_exercise', 'run_insulation']::regclass[] LOOP
    CALL guard_records(records, 'run');
  END LOOP;
  CALL guard_records('calibration_reading', 'calibration');
END $$;

-- How far a station came, how its clock stood and which its first run was is its own to say. These rows are few and come
-- without COPY, so row-level security holds it.
CREATE PROCEDURE guard_own(rows_of regclass) LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
  EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY', rows_of);
  EXECUTE format('CREATE POLICY own ON %s USING (member::text = split_part(current_user, ''_station_'', 2))', rows_of);
  EXECUTE format('CREATE POLICY everybody_reads ON %s FOR SELECT USING (true)', rows_of);
END $$;
CALL guard_own('member');
CALL guard_own('forwarded');
CALL guard_own('clock_offset');

-- month_of makes room for the runs of the month that a number lies in: by attaching, which lets others write and read
-- meanwhile. Whoever forwards may call it without owning the tables; then for no month that lies after the next, and for no one at all
-- that is closed.
CREATE OR REPLACE FUNCTION month_of(run_number bigint) RETURNS void
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
  zero CONSTANT timestamptz := '2020-01-01 00:00:00+00';
  parents CONSTANT text[] := ARRAY['run', 'run_step', 'run_seat', 'run_key', 'run_pair', 'run_finding', 'run_exercise', 'run_insulation', 'run_cell'];
  begins timestamptz;
  low bigint;
  high bigint;
  suffix text;
  parent text;
  part text;
BEGIN
  IF run_number < 0 OR run_number > 9007199254740991 THEN
    RAISE EXCEPTION 'no run has the number %', run_number USING ERRCODE = 'numeric_value_out_of_range';
  END IF;
  IF run_number < open_from() THEN
    RAISE EXCEPTION 'the month of run % is closed', run_number
      USING ERRCODE = 'object_not_in_prerequisite_state', HINT = 'number it from open_from() on; its own times stay as they are';
  END IF;
  begins := date_trunc('month', zero + (run_number / 4096) * interval '1 millisecond', 'UTC');
  IF begins > now() + interval '1 month' AND NOT pg_has_role(session_user, current_user, 'USAGE') THEN
    RAISE EXCEPTION 'the run % would be of %, which is not near', run_number, to_char(begins AT TIME ZONE 'UTC', 'YYYY-MM')
      USING ERRCODE = 'datetime_field_overflow', HINT = 'the clock of the station, and of this server';
  END IF;
  low := (extract(epoch FROM begins - zero) * 1000)::bigint * 4096;
  high := (extract(epoch FROM (begins AT TIME ZONE 'UTC' + interval '1 month') AT TIME ZONE 'UTC' - zero) * 1000)::bigint * 4096;
  suffix := to_char(begins AT TIME ZONE 'UTC', '_YYYY_MM');
  IF to_regclass('public.run_cell' || suffix) IS NOT NULL THEN
    RETURN; -- the last of them
  END IF;
  PERFORM pg_advisory_xact_lock(hashtext('padjig month'));
  FOREACH parent IN ARRAY parents LOOP
    part := parent || suffix;
    IF to_regclass('public.' || part) IS NULL THEN
      EXECUTE format('CREATE TABLE public.%I (LIKE public.%I INCLUDING DEFAULTS INCLUDING GENERATED INCLUDING CONSTRAINTS)', part, parent);
      EXECUTE format('ALTER TABLE public.%I ATTACH PARTITION public.%I FOR VALUES FROM (%s) TO (%s)', parent, part, low, high);
      IF parent <> 'run_cell' THEN
        EXECUTE format('CREATE TRIGGER records_stay_whole BEFORE TRUNCATE ON public.%I EXECUTE FUNCTION records_stay()', part);
      END IF;
    END IF;
  END LOOP;
END $$;
REVOKE EXECUTE ON FUNCTION month_of(bigint) FROM PUBLIC;
