-- Counting: what is known of each serial number, in one row. Whoever counts runs of it locks the row, so that
-- two stations with the same unit are counted one after the other; and only the months in which it has runs
-- are looked into for those.
CREATE TABLE unit (
  serial text COLLATE "C" NOT NULL,
  simulated bigint NOT NULL,
  first_run bigint NOT NULL,               -- its runs lie from here
  last_run bigint NOT NULL,                -- to here
  code text COLLATE "C" NOT NULL,          -- product of one of them
  member smallint NOT NULL,                -- station of one of them
  products bigint NOT NULL,                -- 1: it has runs as another product too
  stations bigint NOT NULL,                -- 1: it has runs at another station too
  PRIMARY KEY (serial, simulated)
);

-- Those that may be two things.
CREATE INDEX unit_doubtful ON unit (last_run) WHERE products + stations > 0;

CREATE INDEX run_id ON run (id);
CREATE INDEX reference_check_run ON reference_check (run);
