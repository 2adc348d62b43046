-- Migration 10: what the questions of a plant of ten million runs go by.

-- When each revision began.
CREATE INDEX cell_began ON cell (revision, simulated, first_run) WHERE runs > 0;

-- Where each jig was seen last.
CREATE INDEX cell_jig ON cell (jig, simulated, last_run) WHERE runs > 0;

-- Serial numbers by a part of them. The extension comes with PostgreSQL, but some install it apart, and not every owner of
-- a database may take it in: without it all serial numbers are gone through.
DO $$
BEGIN
  CREATE EXTENSION IF NOT EXISTS pg_trgm WITH SCHEMA public;
  CREATE INDEX run_serial_part ON run USING gin (lower(serial) gin_trgm_ops);
EXCEPTION WHEN insufficient_privilege OR undefined_file OR feature_not_supported OR undefined_object THEN
  RAISE NOTICE 'padjig: pg_trgm is not there (%), so units are found by a part of their number more slowly', SQLERRM;
END $$;
