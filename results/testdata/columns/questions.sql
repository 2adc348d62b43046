-- The questions of results/million_test.go by their names, for a column engine that has the rows of padjig quality export as the
-- table line: a row a key of a run. Behind a colon is why one is not asked. Units are counted by their row of key 1, in their first
-- judged run. "rows" behind a name: it has to give as many rows as padjig does.

-- yield, all; rows
SELECT count(*) FILTER (outcome = 'pass'), count(*) FROM line WHERE judged_run = 1 AND key = '1';

-- yield by product and revision; rows
SELECT product, revision, avg((outcome = 'pass')::int), count(*) FROM line WHERE judged_run = 1 AND key = '1' GROUP BY ALL;

-- yield by lot
SELECT membrane, dome, board, avg((outcome = 'pass')::int), count(*) FROM line WHERE judged_run = 1 AND key = '1' GROUP BY ALL;

-- yield by jig and shift; rows
SELECT jig, shift, avg((outcome = 'pass')::int), count(*) FROM line WHERE judged_run = 1 AND key = '1' GROUP BY ALL;

-- yield by operator; rows
SELECT operator, avg((outcome = 'pass')::int), count(*) FROM line WHERE judged_run = 1 AND key = '1' GROUP BY ALL;

-- yield by day
SELECT date_trunc('day', started), avg((outcome = 'pass')::int), count(*) FROM line WHERE judged_run = 1 AND key = '1' GROUP BY ALL;

-- yield by hour; rows
SELECT date_trunc('hour', started), avg((outcome = 'pass')::int), count(*) FROM line WHERE judged_run = 1 AND key = '1' GROUP BY ALL;

-- yield of one lot by hour; rows
SELECT date_trunc('hour', started), avg((outcome = 'pass')::int), count(*) FROM line
WHERE judged_run = 1 AND key = '1' AND (membrane = 'M-2613' OR dome = 'M-2613' OR board = 'M-2613') GROUP BY ALL;

-- causes by place, all
SELECT worst, count(*) FROM line WHERE judged_run = 1 AND key = '1' AND worst <> '' GROUP BY ALL ORDER BY 2 DESC;

-- causes by key of one jig
SELECT worst, count(*) FROM line WHERE judged_run = 1 AND key = '1' AND worst <> '' AND jig = 'J-0042' AND revision = 'C' GROUP BY ALL ORDER BY 2 DESC;

-- places on one jig against all
SELECT worst, jig, count(*), sum(count(*)) OVER (PARTITION BY worst) FROM line WHERE judged_run = 1 AND key = '1' AND worst <> '' GROUP BY worst, jig;

-- contact of every probe, newest 10,000 runs: the export has no contact of probes

-- distribution of every key, revision C
SELECT key, floor(32 * log2(closed_ohm)) AS bin, count(*), avg(closed_ohm), stddev(closed_ohm) FROM line
WHERE judged_run = 1 AND NOT closed_at_least AND revision = 'C' GROUP BY key, bin;

-- distribution of every key, one jig
SELECT key, floor(32 * log2(closed_ohm)) AS bin, count(*), avg(closed_ohm), stddev(closed_ohm) FROM line
WHERE judged_run = 1 AND NOT closed_at_least AND revision = 'C' AND jig = 'J-0042' GROUP BY key, bin;

-- distribution of every key, one lot
SELECT key, floor(32 * log2(closed_ohm)) AS bin, count(*), avg(closed_ohm), stddev(closed_ohm) FROM line
WHERE judged_run = 1 AND NOT closed_at_least AND (membrane = 'M-2613' OR dome = 'M-2613' OR board = 'M-2613') GROUP BY key, bin;

-- last 500 readings of a key; rows
SELECT seq, closed_ohm, closed_at_least FROM line WHERE judged_run = 1 AND key = '7' AND revision = 'C' ORDER BY seq DESC LIMIT 500;

-- last 5000 readings of a key on one jig
SELECT seq, closed_ohm, closed_at_least FROM line WHERE judged_run = 1 AND key = '7' AND revision = 'C' AND jig = 'J-0042' ORDER BY seq DESC LIMIT 5000;

-- last 500 readings of a key of one lot
SELECT seq, closed_ohm, closed_at_least FROM line WHERE judged_run = 1 AND key = '7' AND (membrane = 'M-2613' OR dome = 'M-2613' OR board = 'M-2613') ORDER BY seq DESC LIMIT 500;

-- last 500 readings of every key
SELECT key, seq, closed_ohm, closed_at_least FROM line WHERE judged_run = 1 AND revision = 'C'
QUALIFY row_number() OVER (PARTITION BY key ORDER BY seq DESC) <= 500;

-- last 200 units, for stop rules; rows
SELECT seq, serial, jig, started, outcome, worst FROM line WHERE judged_run = 1 AND key = '1' ORDER BY seq DESC LIMIT 200;

-- what happened: the export has no lots, calibrations and changes of their own

-- units that failed; rows
SELECT serial, started, jig, outcome, worst, count(*) OVER () FROM line WHERE judged_run = 1 AND key = '1' AND outcome = 'fail' ORDER BY seq DESC LIMIT 500;

-- units that passed; rows
SELECT serial, started, jig, outcome, worst, count(*) OVER () FROM line WHERE judged_run = 1 AND key = '1' AND outcome = 'pass' ORDER BY seq DESC LIMIT 500;

-- all units; rows
SELECT serial, started, jig, outcome, worst, count(*) OVER () FROM line WHERE judged_run = 1 AND key = '1' ORDER BY seq DESC LIMIT 500;

-- units behind a finding at first; rows
SELECT serial, started, jig, outcome, worst, count(*) OVER () FROM line WHERE judged_run = 1 AND key = '1' AND starts_with(worst, 'key open') ORDER BY seq DESC LIMIT 500;

-- open units; rows
SELECT serial, min(started), arg_max(worst, judged_run), max(judged_run) FROM line WHERE judged_run > 0 AND key = '1'
GROUP BY serial HAVING arg_max(outcome, judged_run) = 'fail';

-- jigs that are known; rows
SELECT jig, count(*) FROM line WHERE key = '1' GROUP BY jig;

-- units by a part of the number that many have; rows
SELECT serial, max(seq), arg_max(outcome, seq) FROM line WHERE key = '1' AND contains(lower(serial), 'gcc') GROUP BY serial ORDER BY 2 DESC LIMIT 20;

-- units by a part of the number that few have; rows
SELECT serial, max(seq), arg_max(outcome, seq) FROM line WHERE key = '1' AND contains(lower(serial), '0123') GROUP BY serial ORDER BY 2 DESC LIMIT 20;
