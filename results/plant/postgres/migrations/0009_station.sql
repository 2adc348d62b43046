-- Migration 9: what a station says of itself, and words that are what they are called.

-- A station's own word of how it stands, one row for each, put in the place of the one before: it is no record. Times are
-- by the clock here; what a station cannot know is 0 or empty.
CREATE TABLE heartbeat (
  member smallint PRIMARY KEY REFERENCES member,
  at_us bigint NOT NULL,
  waiting_runs bigint NOT NULL,            -- that it has and that are not here
  waiting_rows bigint NOT NULL,            -- of all tables, runs among them
  oldest_us bigint NOT NULL,               -- since when the oldest run of these waits
  version text COLLATE "C" NOT NULL,       -- of padjig
  host text COLLATE "C" NOT NULL,
  ahead_us bigint NOT NULL,                -- how far its clock was ahead of this one
  uncertainty_us bigint NOT NULL,
  notice bigint NOT NULL,                  -- number of the newest notice that it has
  stopped text COLLATE "C" NOT NULL        -- code of what its forwarding waits for a person for; empty: it goes on
);
CALL guard_own('heartbeat');

-- The hash of a revision is the SHA-256 of its definition: whoever says otherwise is wrong, whoever it is. What is there
-- already is told by padjig plant conflicts.
ALTER TABLE revision ADD CONSTRAINT definition_of_hash
  CHECK (hash = encode(sha256(convert_to(definition, 'UTF8')), 'hex')) NOT VALID;

-- A key or a pin is one that the definition has. Definitions are kept as they were written, and one of a kind that lists
-- none says nothing against any.
CREATE FUNCTION named_by_definition() RETURNS trigger LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
  means jsonb;
  is_named boolean := true;
BEGIN
  SELECT definition::jsonb INTO means FROM revision WHERE revision = NEW.revision;
  IF means IS NULL THEN
    is_named := false;
  ELSIF TG_TABLE_NAME = 'key' AND jsonb_typeof(means -> 'keys') = 'array' THEN
    is_named := EXISTS (SELECT 1 FROM jsonb_array_elements(means -> 'keys') AS k
                        WHERE k ->> 'label' = NEW.label
                          AND (NEW.line_a = '' AND NEW.line_b = '' -- only pressed, and not read
                               OR k -> 'lines' IN (jsonb_build_array(NEW.line_a, NEW.line_b), jsonb_build_array(NEW.line_b, NEW.line_a))));
  ELSIF TG_TABLE_NAME = 'pin' AND jsonb_typeof(means -> 'tail') = 'array' THEN
    is_named := EXISTS (SELECT 1 FROM jsonb_array_elements_text(means -> 'tail') WITH ORDINALITY AS p (line, number)
                        WHERE p.number = NEW.number AND p.line = NEW.line);
  END IF;
  IF NOT is_named THEN
    RAISE EXCEPTION 'the definition of the revision has no such %', TG_TABLE_NAME USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER named_by_definition BEFORE INSERT ON key FOR EACH ROW EXECUTE FUNCTION named_by_definition();
CREATE TRIGGER named_by_definition BEFORE INSERT ON pin FOR EACH ROW EXECUTE FUNCTION named_by_definition();
