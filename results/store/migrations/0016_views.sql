-- Migration 16: views that tie runs to lots, limits, jigs and times.

-- In the text of the schema, as in migration 12. Keys and findings say which jig
-- measured them and when.
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = replace(replace(replace(sql,
  'run.verdict AS outcome,',
  'run.verdict AS outcome, jig.serial AS jig,
       strftime(''%Y-%m-%dT%H:%M:%S'', run.started_us / 1000000, ''unixepoch'') ||
       printf(''.%06dZ'', run.started_us % 1000000) AS started,'),
  'JOIN run ON run.seq = run_key.run', 'JOIN run ON run.seq = run_key.run JOIN jig USING (jig)'),
  'JOIN run ON run.seq = run_finding.run', 'JOIN run ON run.seq = run_finding.run JOIN jig USING (jig)')
WHERE type = 'view' AND name IN ('keys', 'findings');

-- In the views for people everything counts from 1, in the tables from 0.
UPDATE sqlite_schema SET sql = replace(replace(replace(replace(replace(replace(sql,
  'run_key.place,', 'run_key.place + 1 AS place,'),
  'run_seat.place,', 'run_seat.place + 1 AS place,'),
  'run_step.place,', 'run_step.place + 1 AS place,'),
  'run_pair.place,', 'run_pair.place + 1 AS place,'),
  'run_finding.place,', 'run_finding.place + 1 AS place,'),
  'run_exercise.place,', 'run_exercise.place + 1 AS place,')
WHERE type = 'view' AND name IN ('keys', 'seats', 'steps', 'pairs', 'findings', 'exercises');
UPDATE sqlite_schema SET sql = replace(replace(sql,
  'calibration_reading.place,', 'calibration_reading.place + 1 AS place,'),
  'study AS number, place,', 'study AS number, place + 1 AS place,')
WHERE type = 'view' AND name IN ('calibration_readings', 'gauge_readings');
PRAGMA writable_schema = RESET;

-- A changeover holds for the runs of its jig and product behind after_run, until
-- the next one. It names every lot in use; a lot that is not known has no row.
CREATE VIEW run_lots AS
SELECT held.seq, held.serial, held.product, held.jig, held.simulated, held.started,
       lot.key AS material, lot.value AS lot, held.change AS lot_change
FROM (SELECT run.seq, run.serial, revision.code AS product, jig.serial AS jig, run.simulated,
             strftime('%Y-%m-%dT%H:%M:%S', run.started_us / 1000000, 'unixepoch') ||
             printf('.%06dZ', run.started_us % 1000000) AS started,
             (SELECT max(lot_change.seq) FROM lot_change
              WHERE lot_change.jig = jig.serial AND lot_change.product = revision.code
                AND lot_change.simulated = run.simulated AND lot_change.after_run < run.seq) AS change
      FROM run JOIN revision USING (revision) JOIN jig USING (jig)) AS held
JOIN lot_change ON lot_change.seq = held.change,
     json_each(json_object('membrane', membrane, 'dome', dome, 'board', board, 'consumables', consumables)) AS lot
WHERE lot.value <> '';

-- The limits of every key of every revision, from its definition; once, also where
-- the revision stands there with two titles.
CREATE VIEW key_limits AS
SELECT DISTINCT revision.code AS product, revision.label AS revision, revision.hash AS revision_hash,
       one.key + 1 AS place, one.value ->> '$.label' AS key,
       one.value ->> '$.lines[0]' AS line_a, one.value ->> '$.lines[1]' AS line_b,
       coalesce(one.value ->> '$.group', '') AS "group", (one.value ->> '$.actuator') + 1 AS actuator,
       (one.value ->> '$.limits.closed_ohm[0]') + 0.0 AS closed_min_ohm,
       (one.value ->> '$.limits.closed_ohm[1]') + 0.0 AS closed_max_ohm,
       (one.value ->> '$.limits.rest_ohm') + 0.0 AS rest_min_ohm,
       1e3 * (one.value ->> '$.limits.make_s') AS make_max_ms,
       1e3 * (one.value ->> '$.limits.break_s') AS break_max_ms,
       (one.value ->> '$.limits.diode_v[0]') + 0.0 AS forward_min_volt,
       (one.value ->> '$.limits.diode_v[1]') + 0.0 AS forward_max_volt,
       (one.value ->> '$.limits.guard_u') + 0.0 AS guard_u
FROM revision, json_each(revision.definition, '$.keys') AS one;
