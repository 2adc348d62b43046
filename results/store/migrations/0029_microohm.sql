-- Migration 29: contacts and loops that are known better than to a milliohm.
--
-- Beside the whole milliohm stands what rounding took, in microohm (_uohm): _rest_ of the reading, _u_rest_
-- of its standard uncertainty. NULL: nothing, as in all rows of before. _ohm puts both together.

ALTER TABLE run_key ADD COLUMN closed_rest_uohm INTEGER CHECK (closed_rest_uohm IS NULL
  OR closed_rest_uohm BETWEEN -500 AND 500 AND closed_rest_uohm <> 0 AND closed_mohm IS NOT NULL);
ALTER TABLE run_key ADD COLUMN closed_u_rest_uohm INTEGER CHECK (closed_u_rest_uohm IS NULL
  OR closed_u_rest_uohm BETWEEN -999 AND 500 AND closed_u_rest_uohm <> 0 AND coalesce(closed_u_mohm, 0) > 0);
ALTER TABLE run_key ADD COLUMN closed_ohm REAL AS ((closed_mohm * 1000 + coalesce(closed_rest_uohm, 0)) / 1e6);
ALTER TABLE run_key ADD COLUMN closed_u_ohm REAL AS ((closed_u_mohm * 1000 + coalesce(closed_u_rest_uohm, 0)) / 1e6);

ALTER TABLE run_seat ADD COLUMN loop_rest_uohm INTEGER CHECK (loop_rest_uohm IS NULL
  OR loop_rest_uohm BETWEEN -500 AND 500 AND loop_rest_uohm <> 0 AND loop_mohm IS NOT NULL);
ALTER TABLE run_seat ADD COLUMN loop_u_rest_uohm INTEGER CHECK (loop_u_rest_uohm IS NULL
  OR loop_u_rest_uohm BETWEEN -999 AND 500 AND loop_u_rest_uohm <> 0 AND coalesce(loop_u_mohm, 0) > 0);
ALTER TABLE run_seat ADD COLUMN loop_ohm REAL AS ((loop_mohm * 1000 + coalesce(loop_rest_uohm, 0)) / 1e6);
ALTER TABLE run_seat ADD COLUMN loop_u_ohm REAL AS ((loop_u_mohm * 1000 + coalesce(loop_u_rest_uohm, 0)) / 1e6);

ALTER TABLE run_exercise ADD COLUMN least_rest_uohm INTEGER CHECK (least_rest_uohm IS NULL
  OR least_rest_uohm BETWEEN -500 AND 500 AND least_rest_uohm <> 0 AND least_mohm IS NOT NULL);
ALTER TABLE run_exercise ADD COLUMN least_u_rest_uohm INTEGER CHECK (least_u_rest_uohm IS NULL
  OR least_u_rest_uohm BETWEEN -999 AND 500 AND least_u_rest_uohm <> 0 AND coalesce(least_u_mohm, 0) > 0);
ALTER TABLE run_exercise ADD COLUMN most_rest_uohm INTEGER CHECK (most_rest_uohm IS NULL
  OR most_rest_uohm BETWEEN -500 AND 500 AND most_rest_uohm <> 0 AND most_mohm IS NOT NULL);
ALTER TABLE run_exercise ADD COLUMN most_u_rest_uohm INTEGER CHECK (most_u_rest_uohm IS NULL
  OR most_u_rest_uohm BETWEEN -999 AND 500 AND most_u_rest_uohm <> 0 AND coalesce(most_u_mohm, 0) > 0);
ALTER TABLE run_exercise ADD COLUMN least_ohm REAL AS ((least_mohm * 1000 + coalesce(least_rest_uohm, 0)) / 1e6);
ALTER TABLE run_exercise ADD COLUMN least_u_ohm REAL AS ((least_u_mohm * 1000 + coalesce(least_u_rest_uohm, 0)) / 1e6);
ALTER TABLE run_exercise ADD COLUMN most_ohm REAL AS ((most_mohm * 1000 + coalesce(most_rest_uohm, 0)) / 1e6);
ALTER TABLE run_exercise ADD COLUMN most_u_ohm REAL AS ((most_u_mohm * 1000 + coalesce(most_u_rest_uohm, 0)) / 1e6);

-- The views in the text of the schema, as in migration 12.
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = replace(replace(replace(replace(sql,
  'closed_mohm / 1e3 AS closed_ohm, closed_u_mohm / 1e3 AS closed_u_ohm', 'closed_ohm, closed_u_ohm'),
  'loop_mohm / 1e3 AS loop_ohm, loop_u_mohm / 1e3 AS loop_u_ohm', 'loop_ohm, loop_u_ohm'),
  'least_mohm / 1e3 AS least_ohm, least_u_mohm / 1e3 AS least_u_ohm', 'least_ohm, least_u_ohm'),
  'most_mohm / 1e3 AS most_ohm, most_u_mohm / 1e3 AS most_u_ohm', 'most_ohm, most_u_ohm')
WHERE type = 'view' AND name IN ('keys', 'seats', 'exercises');
PRAGMA writable_schema = RESET;
