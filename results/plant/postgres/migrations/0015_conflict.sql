-- Migration 15: what somebody at the office decided about a conflict between stations, and where units are found that were
-- tested more than once.

-- A conflict is named by what it is about and by whom it is between; the name is a hash and the same whenever it is asked for. parts is
-- what it was made of when this was written: one that comes later opens the conflict again, without a row here.
CREATE TABLE conflict_note (
  seq      bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
  conflict text COLLATE "C" NOT NULL CHECK (conflict <> ''),
  closed   bigint NOT NULL CHECK (closed IN (0, 1)),  -- 0: opened again
  by       text COLLATE "C" NOT NULL CHECK (by <> ''),
  reason   text COLLATE "C" NOT NULL CHECK (reason <> ''),
  parts    text COLLATE "C" NOT NULL,                 -- JSON, a list of texts
  at_us    bigint NOT NULL DEFAULT (extract(epoch FROM clock_timestamp()) * 1000000)::bigint -- by the clock of the plant
);
CREATE INDEX conflict_note_conflict ON conflict_note (conflict, seq);

CREATE FUNCTION conflict_note_stays() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'padjig: conflict_note is append-only';
END $$;
CREATE TRIGGER conflict_note_append BEFORE UPDATE OR DELETE ON conflict_note FOR EACH ROW EXECUTE FUNCTION conflict_note_stays();
CREATE TRIGGER conflict_note_no_truncate BEFORE TRUNCATE ON conflict_note EXECUTE FUNCTION conflict_note_stays();

-- The few units that were tested more than once, the newest first.
CREATE INDEX unit_retested ON unit (last_run) WHERE first_run <> last_run;
