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
  SELECT place - 1, member FROM json_array_elements_text(list::json) WITH ORDINALITY AS each (member, place)
$$;

CREATE FUNCTION json_each(document text, path text) RETURNS TABLE (key bigint, value text)
LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$
  SELECT place - 1, member
  FROM jsonb_path_query_first(document::jsonb, path::jsonpath) AS list,
       jsonb_array_elements_text(CASE jsonb_typeof(list) WHEN 'array' THEN list ELSE '[]' END) WITH ORDINALITY AS each (member, place)
$$;

CREATE FUNCTION json_array_length(list text) RETURNS integer
LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$ SELECT json_array_length(list::json) $$;
