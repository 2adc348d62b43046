-- notices, which are what the plant's office decides for the stations, signed.
--
-- A notice is as the office signed it: what is changed here no station believes, and what is
-- missing shows in the head, which says, signed as well, how many there are and when that was so.

CREATE TABLE notice (
  seq       bigint PRIMARY KEY,        -- number of the notice: 1, 2, 3 ... without a gap
  kind      text COLLATE "C" NOT NULL,
  subject   text COLLATE "C" NOT NULL,
  body      text COLLATE "C" NOT NULL,
  issued_us bigint NOT NULL,
  before    bytea NOT NULL CHECK (length(before) = 32),
  signature bytea NOT NULL CHECK (length(signature) = 64)
);

CREATE FUNCTION notice_appended() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP <> 'INSERT' OR NEW.seq <> (SELECT coalesce(max(seq), 0) + 1 FROM notice) THEN
    RAISE EXCEPTION 'padjig: notice is append-only';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER notice_append BEFORE INSERT OR UPDATE OR DELETE ON notice FOR EACH ROW EXECUTE FUNCTION notice_appended();
CREATE TRIGGER notice_no_truncate BEFORE TRUNCATE ON notice EXECUTE FUNCTION notice_appended();

CREATE TABLE notice_head (
  one       smallint PRIMARY KEY CHECK (one = 1),
  count     bigint NOT NULL,           -- notices that there are
  top       bytea NOT NULL,            -- hash of the last one
  products  text COLLATE "C" NOT NULL, -- number of the last notice of each product, JSON
  issued_us bigint NOT NULL,
  signature bytea NOT NULL
);

CREATE FUNCTION notice_head_rises() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NEW.count < OLD.count OR NEW.issued_us < OLD.issued_us THEN
    RAISE EXCEPTION 'padjig: there was a newer head';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER notice_head_newer BEFORE UPDATE ON notice_head FOR EACH ROW EXECUTE FUNCTION notice_head_rises();

-- Of a release that a station took from a notice, as the station keeps it.
ALTER TABLE release ADD COLUMN notice bigint;
ALTER TABLE release ADD COLUMN from_serial text COLLATE "C" NOT NULL DEFAULT '';
ALTER TABLE release ADD COLUMN approved text COLLATE "C" NOT NULL DEFAULT '';
