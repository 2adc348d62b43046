-- Migration 4: connections in both polarities and over a dwell; what a series
-- diode lets through in reverse. Rows of before have NULL and no trend.

ALTER TABLE run_key ADD COLUMN reverse_mohm     INTEGER;   -- NULL beside reverse_at_least 1: open
ALTER TABLE run_key ADD COLUMN reverse_u_mohm   INTEGER CHECK (reverse_u_mohm >= 0);
ALTER TABLE run_key ADD COLUMN reverse_at_least INTEGER CHECK (reverse_at_least IN (0, 1));  -- NULL: not measured

ALTER TABLE run_pair ADD COLUMN forward_mohm      INTEGER;  -- line_a fed
ALTER TABLE run_pair ADD COLUMN forward_u_mohm    INTEGER CHECK (forward_u_mohm >= 0);
ALTER TABLE run_pair ADD COLUMN forward_at_least  INTEGER CHECK (forward_at_least IN (0, 1));
ALTER TABLE run_pair ADD COLUMN backward_mohm     INTEGER;  -- line_b fed
ALTER TABLE run_pair ADD COLUMN backward_u_mohm   INTEGER CHECK (backward_u_mohm >= 0);
ALTER TABLE run_pair ADD COLUMN backward_at_least INTEGER CHECK (backward_at_least IN (0, 1));
ALTER TABLE run_pair ADD COLUMN trend TEXT NOT NULL DEFAULT ''
  CHECK (trend IN ('', 'steady', 'rising', 'falling'));

DROP VIEW keys;
CREATE VIEW keys AS
SELECT run.seq, run.serial, run.outcome, run.simulated,
       run_key.place, key.label AS key, key.line_a, key.line_b,
       CASE passed WHEN 1 THEN 'pass' WHEN 0 THEN 'fail' ELSE 'untested' END AS verdict,
       closed_mohm / 1e3 AS closed_ohm, closed_u_mohm / 1e3 AS closed_u_ohm, closed_at_least,
       make_us / 1e3 AS make_ms, make_count, break_us / 1e3 AS break_ms, break_count,
       forward_uv / 1e6 AS forward_volt, forward_u_uv / 1e6 AS forward_u_volt,
       reverse_mohm / 1e3 AS reverse_ohm, reverse_u_mohm / 1e3 AS reverse_u_ohm, reverse_at_least
FROM run_key JOIN run ON run.seq = run_key.run JOIN key USING (key);

DROP VIEW pairs;
CREATE VIEW pairs AS
SELECT run.seq, run.serial, run_pair.place, line_a, line_b, held,
       mohm / 1e3 AS ohm, u_mohm / 1e3 AS u_ohm, at_least,
       forward_mohm / 1e3 AS forward_ohm, forward_u_mohm / 1e3 AS forward_u_ohm, forward_at_least,
       backward_mohm / 1e3 AS backward_ohm, backward_u_mohm / 1e3 AS backward_u_ohm, backward_at_least, trend
FROM run_pair JOIN run ON run.seq = run_pair.run;
