-- Questions: what the texts of questions call by the names that SQLite gives it.

-- A member of a document as text, by its path.
CREATE FUNCTION json_text_at(document text, path text) RETURNS text
LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$
  SELECT jsonb_path_query_first(document::jsonb, path::jsonpath) #>> '{}'
$$;

CREATE OPERATOR ->> (LEFTARG = text, RIGHTARG = text, FUNCTION = json_text_at);

CREATE FUNCTION zeroblob(bytes integer) RETURNS bytea
LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$ SELECT decode(repeat('00', bytes), 'hex') $$;

-- The members of an array, in their order, and of one in a document.
CREATE FUNCTION json_each(list text) RETURNS TABLE (key bigint, value text)
LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$
  SELECT place - 1, member
  FROM json_array_elements_text(CASE json_typeof(list::json) WHEN 'array' THEN list::json ELSE '[]' END) WITH ORDINALITY AS each (member, place)
$$;

CREATE FUNCTION json_each(document text, path text) RETURNS TABLE (key bigint, value text)
LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$
  SELECT place - 1, member
  FROM jsonb_path_query_first(document::jsonb, path::jsonpath) AS list,
       jsonb_array_elements_text(CASE jsonb_typeof(list) WHEN 'array' THEN list ELSE '[]' END) WITH ORDINALITY AS each (member, place)
$$;

CREATE FUNCTION json_array_length(list text) RETURNS integer
LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$ SELECT json_array_length(list::json) $$;

-- The greater of two numbers, as max says it beside the aggregate; NULL where one is.
CREATE FUNCTION max(a bigint, b bigint) RETURNS bigint
LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$ SELECT CASE WHEN a > b THEN a WHEN a <= b THEN b END $$;

-- Cells of a station by their time, and the newest ones of all.
CREATE INDEX cell_member ON cell (member, hour);
CREATE INDEX cell_last ON cell (last_run);

-- The newest run of a jig, whatever it was made for. Runs of a time need no index of their own: their numbers are in the
-- order of time, and so are the partitions.
DROP INDEX run_jig;
CREATE INDEX run_jig ON run (jig, actuation, seq);
CREATE INDEX run_fail ON run (seq) WHERE verdict = 'fail';
